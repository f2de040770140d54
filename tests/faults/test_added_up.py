"""Counts that were copied, added up or uploaded wrongly: each is told with two numbers and who decides.

Two neighboring digits exchanged give a difference that 9 divides: 10a + b - (10b + a) = 9(a - b), arithmetic.
That each memory device of a machine holds its whole count is common practice, no source; varies by county.
"""

from __future__ import annotations

import json
from typing import Any

import pytest
from tests.reconcile.conftest import DAY, RecordMaker

from pollstead.election.notice import Notice, NoticeKind
from pollstead.reconcile.counts.balance import LineState
from pollstead.reconcile.counts.county import county_table, site_counts
from pollstead.reconcile.counts.county_notices import county_notices
from pollstead.reconcile.counts.county_shapes import CountyRow, CountyTable
from pollstead.reconcile.counts.totals import typed_totals
from pollstead.reconcile.counts.uploads import UploadState, repeats, uploads_of
from pollstead.record.kinds import canvass, days, incidents

SITES = ("S01", "S02")
MOVED = {"1": 812, "2": 365}
VOTERS = sum(MOVED.values())


def scanner(site: str, number: str) -> str:
    """The id of a scanner of a site."""
    return f"device/scanner/{site}-{number}"


def memory(site: str, number: str) -> str:
    """The memory device that travels from a scanner."""
    return f"memory/LM-M-{site}{number}A"


def closed(case: Any, site: str = "S01", **changed: int) -> None:
    """An ordinary closing, two scanners, nothing spoiled; `changed` overrules a number of the site."""
    record: RecordMaker = case.record
    numbers = {
        "ballots_received": VOTERS + 100,
        "ballots_resupplied": 0,
        "ballots_unused": 97,
        "ballots_spoiled": 0,
        "ballots_fled": 0,
        "ballots_auxiliary": 0,
        "ballots_issued": VOTERS,
        "ballots_reissued": 0,
        "check_ins": VOTERS,
        "check_ins_added": 0,
        "check_ins_cancelled": 0,
        "provisional_issued": 3,
        "provisional_envelopes": 3,
        "provisional_entries": 3,
    }
    for number, moved in MOVED.items():
        device = scanner(site, number)
        for term, value in (
            ("public_counter_open", 0),
            ("public_counter_close", moved),
            ("report_count_close", moved),
            ("lifetime_counter_open", 1000),
            ("lifetime_counter_close", 1000 + moved),
        ):
            value = changed.get(f"{term}_{number}", value)
            record.number(device, term, value, "P001", "P002", site=site)
    for term, value in numbers.items():
        value = changed.get(term, value)
        record.number(f"site/{site}", term, value, "P001", "P002", source="hand", site=site)


def upload(case: Any, site: str, number: str, count: int | None = None, state: str = "taken") -> Any:
    """What the central place read of a scanner's memory device."""
    body = canvass.MemoryUploaded(count=MOVED[number] if count is None else count, state=state)  # type: ignore[arg-type]
    return case.record.write(body, memory(site, number), "P010", site=site)


def total(case: Any, quantity: str, value: int, site: str = "S01", **more: Any) -> Any:
    """A total of the canvass as typed."""
    mode = more.pop("mode", "election_day")
    source = more.pop("source", "export")
    body = canvass.CanvassTotal(mode=mode, quantity=quantity, source=source, total=value, **more)
    return case.record.write(body, f"site/{site}", "P010", site=site)


def table_of(case: Any) -> CountyTable:
    """The county table as recorded."""
    folded = case.record.fold()
    counts = site_counts((case.day(folded=folded),), DAY)
    return county_table(counts, typed_totals(folded), uploads_of(folded))


def told(case: Any) -> tuple[Notice, ...]:
    """What the county table says."""
    return county_notices(table_of(case), case.election)


def row(case: Any, quantity: str, site: str = "S01", style: str = "") -> CountyRow:
    """One row of the table."""
    return next(r for r in table_of(case).rows if (r.site, r.quantity, r.style) == (site, quantity, style))


@pytest.fixture
def added_up(case: Any) -> Any:
    """Two sites that closed, both machines of each uploaded once, the canvass as counted."""
    for site in SITES:
        closed(case, site)
        for number in MOVED:
            upload(case, site, number)
        for quantity, value in (
            ("ballots_cast", VOTERS),
            ("check_ins", VOTERS),
            ("provisional_envelopes", 3),
        ):
            total(case, quantity, value, site)
    return case


def test_a_county_whose_counts_are_in_once_and_only_once_says_nothing(added_up: Any) -> None:
    """Sites, uploads and canvass are one number in every row and for the county; no notice."""
    table = table_of(added_up)
    assert {one.state for one in table.machines} == {UploadState.ONCE}
    assert {line.state for line in table.uploaded} == {LineState.ZERO}
    wanted = {"ballots_cast": VOTERS, "check_ins": VOTERS, "provisional_envelopes": 3}
    assert {(r.site, r.quantity): r.own.difference for r in table.rows} == {
        (site, quantity): value for site in SITES for quantity, value in wanted.items()
    }
    assert {line.state for r in (*table.rows, *table.totals) for line in r.lines} == {LineState.ZERO}
    assert {r.quantity: r.own.difference for r in table.totals} == {q: 2 * v for q, v in wanted.items()}
    assert told(added_up) == ()


def test_a_memory_device_read_twice_is_told_with_the_first_as_its_reference(added_up: Any) -> None:
    """Once and only once by id and count: the second reading is noticed and names the first."""
    first = uploads_of(added_up.record.fold())[0]
    assert repeats(uploads_of(added_up.record.fold()), first.memory, first.count) == first
    upload(added_up, "S01", "1")
    (notice,) = told(added_up)
    assert (notice.rule, notice.kind, notice.subject) == (
        "upload-twice", NoticeKind.DIFFERENCE, scanner("S01", "1")
    )  # fmt: skip
    assert first.event[:12] in notice.text.english()
    assert (notice.found, notice.wanted) == ("1624", "812")
    assert row(added_up, "ballots_cast").received.difference == -812  # type: ignore[union-attr]
    upload(added_up, "S01", "1", state="taken_out")
    assert told(added_up) == ()


def test_the_other_memory_device_of_one_machine_counts_it_twice_as_well(added_up: Any) -> None:
    """Both memory devices of a machine hold its count; reading the second doubles it."""
    body = canvass.MemoryUploaded(count=812)
    added_up.record.write(body, "memory/LM-M-S011B", "P010", site="S01")
    assert [n.rule for n in told(added_up)] == ["upload-twice"]


def test_a_second_reading_that_the_center_refused_changes_nothing(added_up: Any) -> None:
    """Refused is recorded, and counts for nothing."""
    upload(added_up, "S01", "1", state="refused")
    assert told(added_up) == ()


def test_a_memory_device_that_was_never_read_is_missing_and_not_zero(case: Any) -> None:
    """One of two machines is uploaded: the other is named, and the site's row waits instead of differing."""
    closed(case)
    upload(case, "S01", "1")
    received = row(case, "ballots_cast").received
    assert received is not None and received.state is LineState.NOT_READ
    assert received.missing == (f"uploaded/{scanner('S01', '2')}",)
    missing = [n for n in told(case) if n.rule == "upload-missing"]
    assert [(n.kind, n.subject) for n in missing] == [(NoticeKind.OPEN_ITEM, scanner("S01", "2"))]


def test_a_canvass_without_one_upload_has_the_difference_of_that_machine(case: Any) -> None:
    """The canvass got one machine of two: its total is short by the other, and that machine is named."""
    closed(case)
    upload(case, "S01", "1")
    total(case, "ballots_cast", MOVED["1"])
    rules = {n.rule: n for n in told(case)}
    assert rules["balance.I13-canvass"].wanted == str(VOTERS)
    assert rules["balance.I13-canvass"].found == str(MOVED["1"])
    assert row(case, "ballots_cast").canvass.difference == MOVED["2"]  # type: ignore[union-attr]
    assert "upload-missing" in rules


def test_digits_exchanged_in_a_total_leave_a_difference_that_9_divides(added_up: Any) -> None:
    """1177 typed as 1717: told as 540 with the fact that 9 divides it, and as nothing more."""
    old = next(
        t for t in typed_totals(added_up.record.fold()) if (t.site, t.quantity) == ("S02", "check_ins")
    )
    assert str(VOTERS) == "1177"
    added_up.record.correct(
        next(s for s in added_up.record.journal.events if s.id == old.origin.event),
        canvass.CanvassTotal(mode="election_day", quantity="check_ins", source="export", total=1717),
    )
    line = row(added_up, "check_ins", "S02").canvass
    assert line is not None and line.difference == -540 and line.divisible_by_9
    (notice,) = told(added_up)
    assert notice.rule == "balance.I13-canvass"
    assert not {"swap", "error", "mistake", "wrong"} & set(notice.text.english().lower().split())


def test_digits_exchanged_at_closing_leave_a_difference_that_9_divides(case: Any) -> None:
    """812 typed as 821 at one scanner: both equations that it stands in differ by 9."""
    closed(case, public_counter_close_1=821)
    lines = {line.equation: line for line in case.site().lines if line.difference}
    assert {name: abs(line.difference) for name, line in lines.items()} == {
        "I1": 9, "I3": 9, "I4-report": 9, "I5": 9
    }  # fmt: skip
    assert all(line.divisible_by_9 for line in lines.values())


def test_two_styles_of_a_canvass_that_make_up_for_one_another_differ_style_by_style(added_up: Any) -> None:
    """The canvass has the right total and twelve ballots under the other style: two rows, one each way."""
    for number, by_style in {"1": {"E01": 490, "E02": 322}, "2": {"E01": 210, "E02": 155}}.items():
        for style, value in by_style.items():
            body = canvass.CountByStyle(term="style_count_close", style=style, value=value, source="report")
            added_up.record.write(body, scanner("S01", number), "P001", site="S01")
    styles = (canvass.StyleCount(style="E01", count=712), canvass.StyleCount(style="E02", count=465))
    total(added_up, "ballots_cast", VOTERS, "S01", source="report", styles=styles)
    assert row(added_up, "ballots_cast").canvass.state is LineState.ZERO  # type: ignore[union-attr]
    told_of = {n.subject: (n.wanted, n.found) for n in told(added_up) if n.rule == "balance.I13-canvass"}
    assert told_of == {
        "site/S01/election_day/ballots_cast/style/E01": ("700", "712"),
        "site/S01/election_day/ballots_cast/style/E02": ("477", "465"),
    }


def test_two_styles_of_a_site_that_make_up_for_one_another_differ_style_by_style(case: Any) -> None:
    """At the site itself: what is left of each style adds up to the total, the styles' own rows do not."""
    closed(case)
    zero = ("ballots_resupplied", "ballots_spoiled", "ballots_fled", "ballots_auxiliary")
    # Ten ballots of E01 were given out as E02: 760 - 690 - 60 = 10, 517 - 487 - 37 - 3 = -10.
    for style, received, unused, provisional, cast in (
        ("E01", 760, 60, 0, (476, 214)),
        ("E02", 517, 37, 3, (336, 151)),
    ):
        counted = {"ballots_received": received, "ballots_unused": unused, "provisional_issued": provisional}
        for term, value in (*counted.items(), *((term, 0) for term in zero)):
            body = canvass.CountByStyle(term=term, style=style, value=value, source="hand")
            case.record.write(body, "site/S01", "P001", site="S01")
        for number, value in zip(MOVED, cast, strict=True):
            body = canvass.CountByStyle(term="style_count_close", style=style, value=value, source="report")
            case.record.write(body, scanner("S01", number), "P001", site="S01")
    lines = {(line.equation, line.subject): line for line in case.site().lines}
    assert lines[("I1", "site/S01")].difference == 0
    assert lines[("I1-style", "site/S01/style/E01")].difference == 10
    assert lines[("I1-style", "site/S01/style/E02")].difference == -10
    sums = [line for (name, _), line in lines.items() if name == "I1-styles"]
    assert sums and {line.state for line in sums} == {LineState.ZERO}


def test_a_check_in_too_many_is_two_counts_that_differ_and_nothing_about_anybody(case: Any) -> None:
    """After two offline lists were put together: one check-in more than ballots issued, and who decides.

    Nothing says whose it was.
    """
    closed(case, check_ins=VOTERS + 1)
    lines = {line.equation: line for line in case.site().lines if line.difference}
    assert {name: line.difference for name, line in lines.items()} == {"I2": 1}
    (notice,) = (n for n in case.site().notices if n.rule.startswith("balance."))
    said = notice.text.english() + " " + (notice.remedy.english() if notice.remedy else "")
    assert said.startswith("Voters checked in are the voters given a ballot. Difference of 1.")
    assert "canvassing body" in notice.who_decides
    assert not {"twice voted", "fraud", "illegal", "same voter", "double"} & set(said.lower().split())


def test_a_jam_that_says_where_the_ballot_went_stands_beside_the_difference_that_it_may_explain(
    case: Any,
) -> None:
    """A ballot counted, then scanned again: I3 is off by one; the jam ledger leaves nothing open."""
    closed(case, public_counter_close_1=813, report_count_close_1=813, lifetime_counter_close_1=1813)
    assert next(line.difference for line in case.site().lines if line.equation == "I3") == -1
    jam = incidents.BallotJam(at_min=700, before=400, after=401, went="scanned_again")
    case.record.write(jam, scanner("S01", "1"), "P001")
    explained = {one.equation: one for one in case.site().explained}
    assert explained["I3"].exact and explained["I3"].difference == -1
    assert any(n.rule == "balance.I3" for n in case.site().notices), "a difference stays a difference"


def test_a_jam_whose_counter_nobody_read_leaves_its_ballot_open(case: Any) -> None:
    """Counted or not is not known: the ledger carries plus or minus one openly."""
    closed(case, public_counter_close_1=813, report_count_close_1=813, lifetime_counter_close_1=1813)
    case.record.write(incidents.BallotJam(at_min=700, went="scanned_again"), scanner("S01", "1"), "P001")
    (one,) = (e for e in case.site().explained if e.equation == "I3")
    assert one.possible and not one.exact
    assert (one.low, one.high) == (-1, 0)


def test_notes_of_the_hours_name_the_hour_in_which_a_difference_arose(case: Any) -> None:
    """Right at eleven; from three on nine are on the list and in no counter: between 11:00 and 15:00."""
    for hour, check_ins, counters, inside in (
        ("1100", 400, (260, 130), 10),
        ("1500", 809, (540, 251), 9),
        ("1900", 1100, (740, 340), 11),
    ):
        for number, value in zip(MOVED, counters, strict=True):
            case.record.number(scanner("S01", number), "public_counter_open", 0, "P001")
            case.record.number(scanner("S01", number), f"public_counter_at_{hour}", value, "P001")
        case.record.number("site/S01", f"check_ins_at_{hour}", check_ins, "P001")
        case.record.number("site/S01", f"voters_inside_at_{hour}", inside, "P001", source="hand")
        case.record.number("site/S01", f"ballots_auxiliary_at_{hour}", 0, "P001", source="hand")
    checks = case.site().checks
    assert [check.state.value for check in checks.checks] == ["fits", "differs", "differs"]
    assert checks.arose == (11 * 60, 15 * 60)
    (notice,) = (n for n in case.site().notices if n.rule == "cross-check")
    assert "between 11:00 and 15:00" in notice.text.english()
    assert notice.found == "+6 / +12"


def test_a_total_of_a_site_that_does_not_exist_is_named(added_up: Any) -> None:
    """Nothing typed falls out of sight: a total without a row of the table is an open item."""
    total(added_up, "check_ins", 5, "S99")
    (notice,) = told(added_up)
    assert (notice.rule, notice.subject) == ("total-unplaced", "canvass/S99/election_day/check_ins")


def test_a_difference_that_was_corrected_goes_away_and_both_entries_stay(added_up: Any) -> None:
    """A wrong total is corrected by an event that names it; the record keeps both."""
    wrong = total(added_up, "provisional_envelopes", 4, "S02", mode="election_day", file_digest="")
    assert [n.rule for n in told(added_up)] == ["balance.I13-canvass"]
    added_up.record.correct(
        wrong,
        canvass.CanvassTotal(mode="election_day", quantity="provisional_envelopes", source="export", total=3),
    )
    assert told(added_up) == ()
    assert days.EntryCorrected.kind in {s.event.kind for s in added_up.record.journal.events}


def test_typed_at_the_command_line_each_slip_is_told_and_nothing_is_refused(
    shared_app: Any, said_by: Any
) -> None:
    """A total twice, one that differs, its correction, a memory device read twice: all stay recorded."""
    path = shared_app.folder.path
    typed = ("counts", "total", path, "canvass", "check_ins")
    assert "written" in said_by(*typed, "500", "--site", "S02", "--by", "P010")
    assert "the same as entered before" in said_by(*typed, "500", "--site", "S02", "--by", "P001")
    assert "(500" in said_by(*typed, "510", "--site", "S02", "--by", "P010")
    again = said_by(*typed, "510", "--site", "S02", "--by", "P010", "--reason", "Read on the report again")
    assert "corrected" in again
    known = json.loads(said_by("counts", "show", path, "--json"))["machines"][0]["memory_devices"][0]
    assert "taken before" not in said_by("counts", "upload", path, known, "10", "--by", "P010")
    told = said_by("counts", "upload", path, known, "10", "--by", "P010")
    assert "taken before: 10 at" in told
    table = json.loads(said_by("counts", "show", path, "--json"))
    assert table["unofficial"] is True
    (found,) = [
        r
        for r in table["rows"]
        if (r["site"], r["quantity"], r["mode"]) == ("S02", "check_ins", "election_day")
    ]
    values = [
        v for term in found["canvass"]["terms"] for v in term["values"] if term["key"].startswith("canvass/")
    ]
    assert values == [510]
    assert any(n["key"].startswith("upload-twice") for n in table["notices"])
    assert "Machines read once" in said_by("counts", "show", path, "--site", "S02")


def test_hours_typed_at_the_command_line_are_compared_minute_by_minute(shared_app: Any, said_by: Any) -> None:
    """Sworn an hour longer than assigned, from a sheet that crosses midnight; nobody typed the paid hours."""
    path = shared_app.folder.path
    at = ("--site", "S02", "--by", "P010")
    said_by("hours", "told", path, "P001", "assigned", "06:00-12:00", "13:00-24:00", *at)
    assert "sworn 06:00-12:00" in said_by(
        "hours", "told", path, "P001", "sworn", "06:00-12:00", "13:00-25:00", *at
    )
    said = said_by("hours", path)
    assert "sworn in at hours without an assignment: 24:00 to 25:00" in said
    assert "not told: paid" in said
    told = json.loads(said_by("reconcile", path, "--day", DAY.isoformat(), "--json"))["days"][0]["hours"]
    assert [one["sworn_unassigned"] for site in told for one in site["people"]] == [[[1440, 1500]]]
