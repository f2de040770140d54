"""The open results format (NIST SP 1500-100 version 2), JSON and XML, held against the published schemas."""

from __future__ import annotations

import copy
import functools
import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import xmlschema
from tests.intake.counts.report import (
    NAMESPACE,
    SECRET_COUNT,
    USUAL,
    USUAL_UNITS,
    as_json,
    as_xml,
    counts,
    make_report,
)

from pollstead.election.notice import Notice
from pollstead.intake.counts.results import Report, tables_of
from pollstead.intake.counts.results_json import read_json
from pollstead.intake.counts.results_xml import read_xml
from pollstead.intake.counts.table import CountTable

NIST = Path(__file__).resolve().parents[2] / "data" / "nist"
SITES = {"S01", "Harbor Lane Library"}


@functools.cache
def json_schema() -> Any:
    """The published JSON schema, draft 4."""
    schema = json.loads((NIST / "NIST_V2_election_results_reporting.json").read_text(encoding="utf-8"))
    return jsonschema.Draft4Validator(schema)


def read(report: dict[str, Any], form: str = "json") -> Report:
    """A report as read from JSON or from XML."""
    return read_json("r.json", as_json(report)) if form == "json" else read_xml("r.xml", as_xml(report))


def table(report: dict[str, Any]) -> tuple[CountTable | None, tuple[Notice, ...]]:
    """The one table of a report, or None with its faults."""
    found, faults = tables_of(read(report), SITES.__contains__, practice=False)
    return (found[0] if found else None), faults


def test_our_example_fits_both_published_schemas() -> None:
    """What these tests read is a document that the published JSON schema and XSD both accept."""
    assert [error.message for error in json_schema().iter_errors(USUAL)] == []
    wrong = copy.deepcopy(USUAL)
    wrong["Election"][0]["BallotCounts"][0]["Type"] = "by-noon"
    assert list(json_schema().iter_errors(wrong)), "the validator looks"
    schema = xmlschema.XMLSchema10(str(NIST / "NIST_V2_election_results_reporting.xsd"))
    assert [str(error) for error in schema.iter_errors(as_xml(USUAL).decode())] == []
    assert not schema.is_valid(as_xml(wrong).decode())


@pytest.mark.parametrize("form", ["json", "xml"])
def test_ballots_are_read_by_unit_and_votes_are_passed_over(form: str) -> None:
    """Both forms give one report; no candidate's number is anywhere in what was read."""
    report = read(USUAL, form)
    assert report.status == "unofficial-partial" and not report.is_test
    assert report.elections == read(USUAL).elections and report.units == read(USUAL).units
    assert len(report.elections[0].counts) == 10
    assert str(SECRET_COUNT) not in repr(report)
    assert str(SECRET_COUNT).encode() in (as_json(USUAL) if form == "json" else as_xml(USUAL))


def test_one_level_of_units_is_read_and_the_rest_is_skipped_with_its_reason() -> None:
    """Sites are read; the county, precincts and devices count the same ballots again and are skipped."""
    found, faults = table(USUAL)
    assert faults == () and found is not None
    # ru-1 on election day: 300 scanned + 12 from marking devices, no number of all devices is given.
    assert [row.cells[:5] for row in found.rows] == [
        ("S01", "ru-1", "polling-place", "election-day", "312"),
        ("S01", "ru-1", "polling-place", "early", "40"),
        ("Harbor Lane Library", "ru-2", "vote-center", "election-day", "205"),
    ]
    assert {one.row: one.why for one in found.skipped} == {
        6: "by kind of device; the number of all devices is read",
        7: "counts of a wider area",
        8: "counts of one device",
        9: "counts no ballots",
        10: "suppressed for privacy",
    }


def test_precincts_are_read_where_no_site_is_counted() -> None:
    """A report by precinct gives a row for each precinct, to be named by a person."""
    found, _ = table(
        make_report(USUAL_UNITS, [counts("ru-p1", "total", 150), counts("ru-county", "total", 151)])
    )
    assert found is not None
    assert [row.cells[0] for row in found.rows] == ["Precinct 001"]
    (total,) = found.totals
    assert total.cells[4] == "151", "the county's own number is kept to be compared"


def test_absentee_is_not_counted_beside_its_parts() -> None:
    """Absentee holds absentee by mail: reading both would count those ballots twice."""
    ballots = [counts("ru-2", "absentee", 30), counts("ru-2", "absentee-mail", 25)]
    found, _ = table(make_report(USUAL_UNITS, ballots))
    assert found is not None and [row.cells[3:5] for row in found.rows] == [("absentee", "30")]


def test_what_is_said_twice_or_of_an_unknown_unit_is_named_all_at_once() -> None:
    """Two counts of the same unit, way and devices, and a unit that is not there, are two faults."""
    ballots = [counts("ru-2", "early", 3), counts("ru-2", "early", 4), counts("ru-9", "early", 5)]
    found, faults = table(make_report(USUAL_UNITS, ballots))
    assert found is None
    assert sorted(fault.place.row for fault in faults if fault.place) == [2, 3]


def test_a_test_report_goes_into_a_practice_election_only() -> None:
    """Numbers of a rehearsal never reach the real record."""
    report = read({**USUAL, "IsTest": True})
    found, (fault,) = tables_of(report, SITES.__contains__, practice=False)
    assert found == () and fault.rule == "test-report"
    assert tables_of(report, SITES.__contains__, practice=True)[0]


def test_marks_at_the_start_and_other_encodings_are_read() -> None:
    """A JSON file with a byte order mark, or in UTF-16, says the same."""
    plain = as_json(USUAL)
    for data in (b"\xef\xbb\xbf" + plain, plain.decode().encode("utf-16")):
        assert read_json("r.json", data) == read_json("r.json", plain)


LAUGHS = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 8))


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (
            f'<!DOCTYPE x [<!ENTITY l0 "ha">{LAUGHS}]><ElectionReport xmlns="{NAMESPACE}">&l7;',
            "entity",
        ),
        (f'<!DOCTYPE x SYSTEM "file:///etc/passwd"><ElectionReport xmlns="{NAMESPACE}"/>', "document type"),
        ('<ElectionReport xmlns="http://itl.nist.gov/ns/voting/1500-100/v1"/>', "1500-100/v2"),
        ("<html><body/></html>", "expected ElectionReport"),
        (f'<ElectionReport xmlns="{NAMESPACE}"><Election>', "no element"),
        (f'<ElectionReport xmlns="{NAMESPACE}">{"<a>" * 80}', "nested"),
        (f'<ElectionReport xmlns="{NAMESPACE}"/>', "Status"),
    ],
)
def test_xml_that_is_no_report_or_would_expand_is_refused(data: str, says: str) -> None:
    """Entities are not expanded, files not fetched; each refusal says what was found."""
    with pytest.raises(ValueError, match=says):
        read_xml("r.xml", data.encode())


@pytest.mark.parametrize(
    "change",
    [
        {"BallotsCast": "12"},
        {"BallotsCast": 1.5},
        {"BallotsCast": True},
        {"GpUnitId": 7},
    ],
)
def test_json_whose_fields_have_other_types_is_refused_by_us_and_by_the_schema(
    change: dict[str, Any],
) -> None:
    """A number as text is no number here, as in the schema."""
    wrong = copy.deepcopy(USUAL)
    wrong["Election"][0]["BallotCounts"][1].update(change)
    assert list(json_schema().iter_errors(wrong))
    with pytest.raises(ValueError, match="BallotCounts"):
        read(wrong)


def test_json_nested_without_end_is_refused_in_words() -> None:
    """Ten thousand brackets end in a refusal, not in a crash."""
    with pytest.raises(ValueError, match=r"(?i)nested|recursion|expected"):
        read_json("r.json", b'{"@type":"x","Status":"y","Other":' + b"[" * 100_000)
