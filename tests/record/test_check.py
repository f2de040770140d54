"""The check of a record: each kind of damage is named, with its event and its device."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from pollstead.election.canonical import sha256_hex
from pollstead.record.check import Row, check_record
from pollstead.record.event import Side, Signed
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.keys import LARGEST_SLACK_MS, OFFICE_WORDS, certify, public_hex, revoke
from pollstead.record.kinds.days import CorrectionPrivate, EntryCorrected, SealNumber, SealSeen
from pollstead.record.kinds.offices import PlanApproved
from pollstead.record.kinds.registry import KINDS
from pollstead.record.problem import Problem
from pollstead.record.standalone import verify
from pollstead.record.tree import Head, head_of
from pollstead.record.write import sign_event

AsRows = Callable[[tuple[Signed, ...]], tuple[Row, ...]]


def filled(office: Any) -> Any:
    """An office whose desk and one tablet have written ten events."""
    office.certify("tablet/a", scope="site/S01")
    for value in range(4):
        office.count(value)
        office.count(value, device="tablet/a", term="ballots_spoiled")
    return office


def problems(office: Any, rows: tuple[Row, ...], *earlier: Head) -> list[tuple[str, str]]:
    """The problems found, each with the event it names."""
    report = check_record(office.header, rows, office.sides, earlier)
    return [(str(found.problem), found.event) for found in report.troubles]


def edited(signed: Signed, **changes: Any) -> bytes:
    """The bytes of the event with some fields changed, not signed again."""
    return msgspec.structs.replace(signed.event, **changes).to_bytes()


def test_a_whole_record_checks(office: Any, as_rows: AsRows) -> None:
    """Nothing is wrong with a record that was only written."""
    rows = as_rows(filled(office).events)
    report = check_record(office.header, rows, office.sides, (head_of([row.id for row in rows[:5]]),))
    assert report.checks and report.remarks == ()
    assert report.head.size == 10


def test_a_removed_event_is_named_by_device_and_counter(office: Any, as_rows: AsRows) -> None:
    """The gap names the device and the missing counter, also when places and links were made anew."""
    events = filled(office).events
    rest = (*events[:5], *events[6:])
    report = check_record(office.header, as_rows(rest), {}, ())
    (gap,) = (found for found in report.troubles if found.problem is Problem.GAP)
    assert gap.device == events[5].event.device
    assert f"{events[5].event.n} to {events[5].event.n}" in gap.english()
    rows = as_rows(events)
    assert ("order", events[6].id) in problems(office, (*rows[:5], *rows[6:]))


def test_an_event_removed_from_the_end_is_found_by_an_earlier_head(office: Any, as_rows: AsRows) -> None:
    """Nothing inside the rest tells that the last event is gone; a head that was noted does."""
    events = filled(office).events
    noted = head_of([signed.id for signed in events])
    rest = as_rows(events[:-1])
    assert problems(office, rest) == []
    assert problems(office, rest, noted) == [("head", "")]


def test_a_changed_event_is_named(office: Any, as_rows: AsRows) -> None:
    """Changed bytes have another id; with the id changed as well the signature does not fit."""
    events = filled(office).events
    rows = as_rows(events)
    data = edited(events[4], body=FrozenObject({"term": "x", "value": 9, "source": "screen"}))
    only_bytes = msgspec.structs.replace(rows[4], data=data)
    assert ("id", events[4].id) in problems(office, (*rows[:4], only_bytes, *rows[5:]))
    forged = Signed(id=sha256_hex(data), data=data, signature=events[4].signature, event=events[4].event)
    again = as_rows((*events[:4], forged, *events[5:]))
    found = problems(office, again)
    assert ("signature", forged.id) in found
    follower = next(s for s in events[5:] if s.event.prev == events[4].id)
    assert ("broken_chain", follower.id) in found


def test_reordered_events_are_named(office: Any, as_rows: AsRows, fault_random: random.Random) -> None:
    """Two rows that changed places are both named; with links made anew an earlier head finds it."""
    events = list(filled(office).events)
    noted = head_of([signed.id for signed in events])
    first, second = sorted(fault_random.sample(range(len(events)), 2))
    rows = list(as_rows(tuple(events)))
    a, b = rows[first], rows[second]
    rows[first] = msgspec.structs.replace(b, seq=a.seq)
    rows[second] = msgspec.structs.replace(a, seq=b.seq)
    named = {event for problem, event in problems(office, tuple(rows)) if problem == "order"}
    assert {a.id, b.id} <= named
    events[first], events[second] = events[second], events[first]
    assert problems(office, as_rows(tuple(events))) == []
    assert problems(office, as_rows(tuple(events)), noted) == [("head", "")]


def test_a_doubled_event_is_named(office: Any, as_rows: AsRows) -> None:
    """The same event at two places is named with both."""
    events = filled(office).events
    report = check_record(office.header, as_rows((*events, events[3])), {}, ())
    (found,) = report.troubles
    assert (found.problem, found.event) == (Problem.DOUBLED, events[3].id)
    assert "place 4 and at place 11" in found.english()


def test_a_changed_private_part_is_named_and_a_redacted_one_is_not(office: Any, as_rows: AsRows) -> None:
    """A deleted private part leaves every signature, chain and head as it was."""
    seal = SealSeen(step="opening", state="intact")
    seen = office.record(seal, "closure/scanner/0012/lid", private=SealNumber(number="0048211"))
    rows, digest = as_rows(office.events), seen.event.private
    data = office.sides[digest].data
    altered: dict[str, Side | None] = {digest: Side(digest=digest, data=data.replace(b"0048211", b"0048219"))}
    (found,) = check_record(office.header, rows, altered).troubles
    assert (found.problem, found.event) == (Problem.PRIVATE, seen.id)
    redacted = check_record(office.header, rows, {digest: None}, (head_of([r.id for r in rows]),))
    assert redacted.checks
    assert "redacted" in redacted.remarks[0].english()
    elsewhere = check_record(office.header, rows, {})
    assert elsewhere.checks and "elsewhere" in elsewhere.remarks[0].english()


def test_two_events_with_one_counter_are_a_fork_and_both_are_kept(office: Any, as_rows: AsRows) -> None:
    """A device restored from an old copy writes a second event with a used counter."""
    events = filled(office).events
    last = next(s for s in reversed(events) if s.event.device == "tablet/a")
    event = msgspec.structs.replace(last.event, utc_ms=last.event.utc_ms + 1)
    twin = sign_event(office.header, office.key("tablet/a"), event)
    report = check_record(office.header, as_rows((*events, twin)), {})
    (fork,) = report.troubles
    assert (fork.problem, fork.device, fork.n) == (Problem.FORK, "tablet/a", last.event.n)
    assert last.id[:12] in fork.english() and twin.id[:12] in fork.english()
    assert fork.to_notice().rule == "record.fork"


def test_a_device_without_certificate_is_named(office: Any, as_rows: AsRows) -> None:
    """A key that the office never certified signs for nobody."""
    signed = filled(office).events[-1]
    event = msgspec.structs.replace(signed.event, device="tablet/z", n=1, prev="")
    stranger = sign_event(office.header, office.key("tablet/z"), event)
    assert problems(office, as_rows((*office.events, stranger))) == [("unknown_device", stranger.id)]


def test_a_certificate_that_the_office_key_did_not_sign_counts_for_nothing(
    office: Any, as_rows: AsRows
) -> None:
    """A certificate signed by another key is named, and the device stays unknown."""
    filled(office)
    other = office.key("somebody else")
    header = msgspec.structs.replace(office.header, office_key=public_hex(other))
    body = certify(
        header, other, device="tablet/z", public_key=public_hex(office.key("tablet/z")),
        scope="office", valid_from_utc_ms=0, valid_to_utc_ms=office.clock * 2,
    )  # fmt: skip
    office.record(body, "tablet/z", site="")
    event = msgspec.structs.replace(office.events[0].event, device="tablet/z")
    stranger = sign_event(office.header, office.key("tablet/z"), event)
    found = problems(office, as_rows((*office.events, stranger)))
    assert [problem for problem, _ in found] == ["certificate", "unknown_device"]


def test_a_second_key_for_one_device_is_named(office: Any, as_rows: AsRows) -> None:
    """A device keeps one key; the office certifying another is shown."""
    filled(office)
    body = certify(
        office.header, office.office_key, device="tablet/a", public_key=public_hex(office.key("new key")),
        scope="office", valid_from_utc_ms=0, valid_to_utc_ms=office.clock * 2,
    )  # fmt: skip
    office.record(body, "tablet/a", site="")
    assert [problem for problem, _ in problems(office, as_rows(office.events))] == ["two_keys"]


@pytest.mark.parametrize(
    ("scope", "start", "end", "problem"),
    [
        ("site/S02", 0, 10**13, "out_of_scope"),
        ("site/S01", 0, 1, "out_of_time"),
        ("site/S01", 10**13, 2 * 10**13, "out_of_time"),
        ("site/S01", 0, 10**13, None),
        ("office", 0, 10**13, None),
    ],
)
def test_time_and_scope_of_a_certificate_bind(
    office: Any, as_rows: AsRows, scope: str, start: int, end: int, problem: str | None
) -> None:
    """An event outside the scope or the time of its device's certificate is named."""
    office.certify("tablet/a", scope=scope, start=start, end=end)
    signed = office.count(1, device="tablet/a")
    wanted = [] if problem is None else [(problem, signed.id)]
    assert problems(office, as_rows(office.events)) == wanted


def test_a_sites_tablet_cannot_approve_a_plan(office: Any, as_rows: AsRows) -> None:
    """What belongs to the office is named when a device of a site signs it, also as a correction."""
    office.certify("tablet/a", scope="site/S01")
    approved = PlanApproved(digest="a" * 64)
    at_site = office.record(approved, "plan", device="tablet/a")
    at_desk = office.record(approved, "plan", site="")
    correction = EntryCorrected(corrects=at_desk.id, of_kind="plan.approved", value=FrozenObject())
    why = CorrectionPrivate(reason="Not this one.")
    corrected = office.record(correction, "plan", device="tablet/a", private=why)
    found = problems(office, as_rows(office.events))
    assert found == [("office_only", at_site.id), ("office_only", corrected.id)]


def test_the_page_and_the_verifier_know_the_same_office_kinds() -> None:
    """Program and stand-alone verifier share the list of what belongs to the office, and it is in use."""
    assert frozenset(verify.OFFICE_WORDS) == OFFICE_WORDS
    assert verify.LARGEST_SLACK_MS == LARGEST_SLACK_MS
    assert {kind.partition(".")[0] for kind in KINDS} >= OFFICE_WORDS


def test_a_clock_that_may_be_off_is_given_its_uncertainty(office: Any, as_rows: AsRows) -> None:
    """An event just before its certificate begins is in time when its clock may be that far off."""
    office.certify("tablet/a", start=office.clock + 10_000)
    signed = office.count(1, device="tablet/a")
    event = msgspec.structs.replace(signed.event, uncertainty_ms=60_000)
    slack = sign_event(office.header, office.key("tablet/a"), event)
    assert problems(office, as_rows((*office.events[:-1], slack))) == []


def test_no_uncertainty_carries_a_device_far_beyond_its_certificate(office: Any, as_rows: AsRows) -> None:
    """A device that claims a boundless uncertainty is still out of time two hours after the end."""
    office.certify("tablet/a", end=office.clock + 5_000)
    signed = office.count(1, device="tablet/a")
    event = msgspec.structs.replace(
        signed.event, utc_ms=signed.event.utc_ms + 7_200_000, uncertainty_ms=2**53 - 1
    )
    late = sign_event(office.header, office.key("tablet/a"), event)
    assert problems(office, as_rows((*office.events[:-1], late))) == [("out_of_time", late.id)]


def test_events_after_the_last_accepted_counter_of_a_revoked_device_are_named(
    office: Any, as_rows: AsRows
) -> None:
    """What a lost tablet wrote up to the counter stays; what came after is named."""
    filled(office)
    office.record(revoke(office.header, office.office_key, device="tablet/a", last_n=3), "tablet/a", site="")
    fourth = next(s for s in office.events if (s.event.device, s.event.n) == ("tablet/a", 4))
    assert problems(office, as_rows(office.events)) == [("revoked", fourth.id)]


def test_practice_events_do_not_check_in_the_real_record(
    office: Any, make_office: Callable[..., Any], as_rows: AsRows
) -> None:
    """Even with the same keys: the record id is part of what is signed."""
    practice = make_office(practice=True)
    practice.count(1)
    found = problems(office, as_rows(practice.events))
    assert {problem for problem, _ in found} == {"certificate", "unknown_device"}
    assert problems(practice, as_rows(practice.events)) == []


def test_bytes_that_are_no_event_are_named_by_their_place(office: Any, as_rows: AsRows) -> None:
    """A torn row is named by its id and place, and the rest is still checked."""
    rows = list(as_rows(filled(office).events))
    rows[2] = msgspec.structs.replace(rows[2], data=rows[2].data[:-5])
    found = problems(office, tuple(rows))
    assert ("not_an_event", rows[2].id) in found
    assert any(problem == "gap" for problem, _ in found)
