"""The open NIST format of ballot definitions, SP 1500-20 (draft) version 1: what is read, what is refused.

The schema is usnistgov/BallotDefinition's own, copied in tests/data/nist with its license. What is read here
is written by this file alone, and is first held against that schema.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from pollstead.election.county import Election
from pollstead.intake.ballot_definition import read_ballot_definition
from pollstead.intake.folder import read_folder

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "tests" / "data" / "nist" / "NIST_V1_ballot_definition.json").read_text("utf-8"))
P = "BallotDefinition."


def text(words: str) -> dict[str, Any]:
    """Words in two languages, the other one first."""
    strings = [("x-invented", f"<{words}>"), ("en", words)]
    return {
        "@type": f"{P}InternationalizedText",
        "Text": [{"@type": f"{P}LanguageString", "Content": c, "Language": lang} for lang, c in strings],
    }


def named(value: str) -> list[dict[str, Any]]:
    """An identifier of the county's own."""
    return [{"@type": f"{P}ExternalIdentifier", "Type": "local-level", "Value": value}]


def definition_of(election: Election) -> dict[str, Any]:
    """The county's ballots in the open format: lists of people as candidates, questions as measures."""
    candidates, contests, styles = [], [], []
    for contest in election.contests:
        choices = [c for c in election.choices if c.contest == contest.id]
        question = [c.words for c in choices] == ["Yes", "No"]
        options: list[dict[str, Any]] = []
        for choice in choices:
            option = {"@id": f"{contest.id}.{choice.id}", "SequenceOrder": choice.order}
            if question:
                options.append(option | {"@type": f"{P}BallotMeasureOption", "Selection": text(choice.words)})
                continue
            person = f"person-{contest.id}-{choice.id}"
            candidates.append({"@id": person, "@type": f"{P}Candidate", "BallotName": text(choice.words)})
            options.append(option | {"@type": f"{P}CandidateOption", "CandidateIds": [person]})
        for line in range(contest.write_in_lines):
            at = {"@id": f"{contest.id}.line{line}", "SequenceOrder": 90 + line}
            options.append(at | {"@type": f"{P}CandidateOption", "IsWriteIn": True})
        made = {"@id": contest.id, "Name": contest.words, "ElectionDistrictId": "county"}
        made |= {"BallotTitle": text(contest.words), "ContestOption": options[::-1]}
        kind: dict[str, Any] = {"@type": f"{P}BallotMeasureContest"}
        if not question:
            kind = {
                "@type": f"{P}CandidateContest",
                "VotesAllowed": contest.vote_for,
                "VoteVariation": "n-of-m",
            }
        contests.append(made | kind)
    faces = dict.fromkeys((row.style, row.precinct) for row in election.ballot_contests)
    own = {style for style, precinct in faces if precinct}
    for style, precinct in faces:
        rows = [r for r in election.ballot_contests if (r.style, r.precinct) == (style, precinct)]
        ordered = []
        for row in sorted(rows, key=lambda r: r.order):
            ids = [f"{row.contest}.{c.id}" for c in election.choices if c.contest == row.contest]
            ids = ids[row.rotation :] + ids[: row.rotation]
            line = {"@type": f"{P}OrderedContest", "ContestId": row.contest, "OrderedContestOptionIds": ids}
            ordered.append(line)
        header = {"@type": f"{P}OrderedHeader", "HeaderId": "front", "OrderedContent": ordered[1:]}
        unit = f"unit-{precinct}" if precinct else "unit-001" if style in own else "county"
        styles.append(
            {
                "@type": f"{P}BallotStyle",
                "GpUnitIds": [unit],
                "ExternalIdentifier": named(style),
                "OrderedContent": [ordered[0], *([header] if ordered[1:] else [])],
            }
        )
    units = [{"@id": "county", "@type": f"{P}ReportingUnit", "Type": "county"}]
    for precinct in ("001", "002"):
        unit = {"@id": f"unit-{precinct}", "@type": f"{P}ReportingUnit", "Type": "precinct"}
        units.append(unit | {"ExternalIdentifier": named(precinct)})  # type: ignore[dict-item]
    return {
        "@type": f"{P}BallotDefinition",
        "GeneratedDate": "2028-09-20T09:00:00-04:00",
        "Issuer": "Larkmoor County",
        "IssuerAbbreviation": "LM",
        "SequenceStart": 1,
        "SequenceEnd": 1,
        "VendorApplicationId": "tests",
        "Version": "1.0.0",
        "IsTest": True,
        "GpUnit": units,
        "Header": [{"@id": "front", "@type": f"{P}Header", "Name": text("Front")}],
        "Election": [
            {
                "@type": f"{P}Election",
                "ElectionScopeId": "county",
                "Name": text("General election"),
                "StartDate": "2028-11-07",
                "EndDate": "2028-11-07",
                "Type": "general",
                "Candidate": candidates,
                "Contest": contests,
                "BallotStyle": styles,
            }
        ],
    }


@pytest.fixture(scope="module")
def small() -> Election:
    """The small county."""
    election = read_folder(ROOT / "small").election
    assert election is not None
    return election


def test_a_definition_that_the_schema_accepts_gives_the_same_tables(small: Election) -> None:
    """Titles, order, write-in lines, rotation by style and by precinct come back from the open format."""
    definition = definition_of(small)
    jsonschema.Draft7Validator(SCHEMA).validate(definition)
    read = read_ballot_definition(json.dumps(definition).encode(), "ballots.json")
    assert read.faults == ()
    assert set(read.contests) == set(small.contests)
    choices = {(c.contest, c.order, c.words) for c in small.choices}
    assert {(c.contest, c.order, c.words) for c in read.choices} == choices
    # The format has no "all other precincts": a style with ballots of its own names each precinct.
    told = {
        (r.style, r.precinct or ("001" if r.style == "04" else ""), r.contest, r.order, r.rotation)
        for r in small.ballot_contests
    }
    assert {(r.style, r.precinct, r.contest, r.order, r.rotation) for r in read.ballot_contests} == told


def test_all_faults_of_a_definition_are_told_at_once_with_their_places(small: Election) -> None:
    """Ranked voting, an unknown candidate, an order that is no rotation, a style without a name."""
    definition = definition_of(small)
    election = definition["Election"][0]
    by_id = {contest["@id"]: contest for contest in election["Contest"]}
    by_id["mayor"]["VoteVariation"] = "rcv"
    by_id["council"]["ContestOption"][-1]["CandidateIds"] = ["nobody"]
    election["BallotStyle"][0]["OrderedContent"][1]["OrderedContent"][0]["OrderedContestOptionIds"].reverse()
    del election["BallotStyle"][5]["ExternalIdentifier"]
    jsonschema.Draft7Validator(SCHEMA).validate(definition)
    read = read_ballot_definition(json.dumps(definition).encode(), "ballots.json")
    assert (read.contests, read.choices, read.ballot_contests) == ((), (), ())
    places = [fault.place.column for fault in read.faults if fault.place is not None]
    mayor = next(i for i, c in enumerate(election["Contest"]) if c["@id"] == "mayor")
    assert f"Election[0].Contest[{mayor}].VoteVariation" in places
    assert any(place and place.endswith("CandidateIds") for place in places)
    assert "Election[0].BallotStyle[0].OrderedContent[1].OrderedContent[0].OrderedContestOptionIds" in places
    assert "Election[0].BallotStyle[5].ExternalIdentifier" in places


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"[]",
        b'{"@type": "x"}',
        b"\xff\xfe",
        b'{"@type":"BallotDefinition.BallotDefinition"}',
        b"[" * 10_000,
    ],
)
def test_what_is_no_ballot_definition_is_a_fault_and_no_error(data: bytes) -> None:
    """Bytes of any kind give a fault in words."""
    read = read_ballot_definition(data, "x.json")
    assert read.faults and read.contests == ()


def test_kinds_of_contest_without_a_deck_are_named(small: Election) -> None:
    """A straight-party contest is refused by its kind: its marks spread to other contests."""
    definition = definition_of(small)
    contest = definition["Election"][0]["Contest"][0]
    contest["@type"] = f"{P}StraightPartyContest"
    read = read_ballot_definition(json.dumps(definition).encode(), "ballots.json")
    assert any("is of a kind for which no deck is made" in fault.text.template for fault in read.faults)
