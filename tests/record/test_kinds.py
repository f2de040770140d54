"""Kinds: bodies fit their schema, and what is private cannot get into a signed field."""

from __future__ import annotations

from typing import Any

import pytest

from pollstead.record.event import FrozenObject
from pollstead.record.kinds import days, offices
from pollstead.record.kinds.body import Nature
from pollstead.record.kinds.registry import (
    KINDS,
    PRIVATE_WORDS,
    UnknownKind,
    Unreadable,
    body_object,
    body_of,
    parse_body,
    private_words_in,
)


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_no_signed_body_has_a_field_for_private_data(kind: str) -> None:
    """Names, phones, notes, reasons and seal numbers have no field in any body."""
    assert not set(KINDS[kind].__struct_fields__) & PRIVATE_WORDS


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_every_kind_says_what_it_is(kind: str) -> None:
    """A kind has a docstring that begins with its name, and its key names fields that it has."""
    body = KINDS[kind]
    assert (body.__doc__ or "").startswith(f"``{kind}``")
    assert set(body.key) <= set(body.__struct_fields__)
    assert body.nature is not Nature.ENTRY or not body.key


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("count.read", {"term": "ballots", "value": -1, "source": "screen"}),
        ("count.read", {"term": "ballots", "value": 1}),
        ("count.read", {"term": "ballots", "value": 1, "source": "screen", "extra": 1}),
        ("count.read", {"term": "Ballots cast by Ann", "value": 1, "source": "screen"}),
        ("count.read", {"term": "ballots", "value": "1", "source": "screen"}),
        ("site.opened", {"at_min": 2880}),
        ("seen.seal", {"step": "opening", "state": "fine"}),
        ("seen.clock", {"date_shown": "yesterday", "device_min": 1, "reference_min": 1}),
        ("plan.approved", {"digest": "abc"}),
        ("value.fixed", {"table": "people", "row": "P1", "field": "phone", "value": "555 0142"}),
        ("value.fixed", {"table": "sites", "row": "S01", "field": "contact_phone", "value": "555 0142"}),
    ],
)
def test_a_body_that_does_not_fit_its_kind_is_refused(kind: str, fields: dict[str, Any]) -> None:
    """The error names the kind."""
    with pytest.raises(ValueError, match=kind):
        parse_body(kind, FrozenObject(fields))


def test_private_words_are_found_wherever_they_stand() -> None:
    """Also within lists and objects of a free body."""
    fields = FrozenObject({"a": [{"phone": 1}, {"b": {"name": 2}}], "value": {"number": 3}})
    assert private_words_in(fields) == ("body.a[0].phone", "body.a[1].b.name", "body.value.number")


def test_a_correction_cannot_carry_a_seal_number_into_a_signed_field(office: Any) -> None:
    """The new number of a corrected seal goes into the private part, or the event is refused."""
    seal = days.SealSeen(step="opening", state="intact")
    closure = "closure/scanner/0012/lid"
    seen = office.record(seal, closure, private=days.SealNumber(number="0048211"))
    value = FrozenObject({**body_object(seal), "number": "0048219"})
    correction = days.EntryCorrected(corrects=seen.id, of_kind="seen.seal", value=value)
    with pytest.raises(ValueError, match="number"):
        office.record(correction, closure, private=days.CorrectionPrivate(reason="Read again."))


@pytest.mark.parametrize(
    ("body", "subject", "private", "says"),
    [
        (days.SiteOpened(at_min=420), "device/scanner/0012", None, "subject of site.opened must be site/"),
        (days.SealSeen(step="opening", state="intact"), "seal/A/0048211", None, "subject of seen.seal"),
        (offices.ValueFixed(table="stations", row="r", field="count", value=1), "site/S01", None, "a reason"),
        (days.SiteOpened(at_min=420), "site/S01", days.Remark(remark="x"), "has no private part"),
        (
            days.SealSeen(step="opening", state="intact"),
            "closure/a/b",
            days.Remark(remark=""),
            "private part",
        ),
    ],
)
def test_what_may_not_be_written_is_refused_before_it_is_signed(
    office: Any, body: Any, subject: str, private: Any, says: str
) -> None:
    """Wrong subjects, missing reasons and private parts of another kind are refused; nothing is kept."""
    before = office.events
    with pytest.raises(ValueError, match=says):
        office.record(body, subject, private=private)
    assert office.events == before


def test_unknown_and_unreadable_events_are_told_apart(office: Any) -> None:
    """A kind of a later version is unknown; a known kind with a body that does not fit is unreadable."""
    event = office.count(3).event
    fields = {name: getattr(event, name) for name in event.__struct_fields__}
    assert isinstance(body_of(type(event)(**{**fields, "kind": "later.kind"})), UnknownKind)
    assert isinstance(body_of(type(event)(**{**fields, "v": 2})), UnknownKind)
    assert isinstance(body_of(type(event)(**{**fields, "body": FrozenObject({"a": 1})})), Unreadable)
