"""Events: what they hold, what is refused, and that their bytes are one."""

from __future__ import annotations

import json
import unicodedata
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.election.canonical import LARGEST_INT, canonical_bytes, sha256_hex
from pollstead.record.event import Event, FrozenObject, Means, Part, Person, make_side, read_event, read_side
from pollstead.record.frozen_json import DEEPEST

AUTHOR = Person(person="person/P001", means=Means.CODE, part=Part.AUTHOR)
FIELDS: dict[str, Any] = {
    "v": 1,
    "kind": "count.read",
    "subject": "device/scanner/0012",
    "site": "site/S01",
    "day": "2028-11-07",
    "body": FrozenObject({"term": "ballots", "value": 3}),
    "utc_ms": 1_857_200_000_000,
    "offset_min": -300,
    "uncertainty_ms": 1_000,
    "people": (AUTHOR,),
    "device": "desk/office",
    "n": 1,
    "prev": "",
    "after": (),
    "private": "",
}
texts = st.text(max_size=8).map(lambda text: unicodedata.normalize("NFC", text))
keys = st.text("abcxyz019_", min_size=1, max_size=6)
leaves = st.none() | st.booleans() | st.integers(-LARGEST_INT, LARGEST_INT) | texts
bodies = st.dictionaries(
    keys,
    st.recursive(
        leaves, lambda t: st.lists(t, max_size=3) | st.dictionaries(keys, t, max_size=3), max_leaves=6
    ),
    max_size=4,
)


def changed(**changes: Any) -> Event:
    """The sample event with some fields changed."""
    return Event(**{**FIELDS, **changes})


@given(bodies)
def test_any_body_of_the_allowed_types_comes_back_as_it_was(body: dict[str, Any]) -> None:
    """Bytes, event and body are one and the same, whatever the body, and the event can be hashed."""
    event = changed(body=FrozenObject(body))
    again = read_event(event.to_bytes())
    assert again == event
    assert hash(again) == hash(event)
    assert again.body.thawed() == json.loads(json.dumps(body))


@pytest.mark.parametrize(
    ("name", "value", "says"),
    [
        ("v", 0, "v must be 1"),
        ("kind", "Count Read", "kind must be dotted words"),
        ("subject", "the scanner", "subject must be an id"),
        ("site", "S 01", "site must be an id"),
        ("day", "7 Nov", "day must be a date"),
        ("day", "2027-02-29", "date of the calendar"),
        ("utc_ms", -1, "utc_ms must be 0.."),
        ("utc_ms", 2**53, "utc_ms must be 0.."),
        ("offset_min", 2000, "offset_min must be -1440..1440"),
        ("uncertainty_ms", -1, "uncertainty_ms must be 0.."),
        ("people", (), "at least the author"),
        ("people", (Person(person="person/P1", means=Means.CODE, part=Part.SECOND),), "must be the author"),
        ("people", (AUTHOR, AUTHOR), "one author only"),
        ("people", (Person(person="Ann Example", means=Means.CODE, part=Part.AUTHOR),), "never a name"),
        ("device", "", "device must be an id"),
        ("n", 0, "n must be 1.."),
        ("n", 2, "prev must be empty for n = 1 and only then"),
        ("prev", "0" * 64, "prev must be empty for n = 1 and only then"),
        ("after", ("x",), "after must be ids"),
        ("after", ("b" * 64, "a" * 64), "ascending"),
        ("after", ("a" * 64, "a" * 64), "each id once"),
        ("private", "abc", "private must be 64 hexadecimal digits"),
        ("body", {"a": 1}, "body must be a FrozenObject"),
    ],
)
def test_a_field_out_of_bounds_is_refused_by_name(name: str, value: Any, says: str) -> None:
    """The error names the field, the bound and the value."""
    with pytest.raises(ValueError, match=says.replace("(", r"\(")):
        changed(**{name: value})


@pytest.mark.parametrize(
    ("body", "says"),
    [
        ({"value": 1.5}, "whole number"),
        ({"value": 1.0}, "whole number"),
        ({"value": 2**53}, "within"),
        ({"Value": 1}, "a-z, 0-9 and _"),
        ({"": 1}, "a-z, 0-9 and _"),
        ({"a": {"b c": 1}}, "a-z, 0-9 and _"),
        ({"a": "e\u0301"}, "normal form C"),
        ({"a": "\ud800"}, "surrogate"),
        ({"a": object()}, "must be JSON"),
        ({"a": b"bytes"}, "must be JSON"),
    ],
)
def test_a_body_that_json_and_the_schema_do_not_share_is_refused(body: dict[str, Any], says: str) -> None:
    """Fractions, large numbers, odd keys, text that is not NFC and other types are refused."""
    with pytest.raises(ValueError, match=says):
        FrozenObject(body)


def test_a_body_that_nests_too_deep_is_refused() -> None:
    """Nesting has a bound, so that no input can exhaust a reader."""
    body: Any = 1
    for _ in range(DEEPEST + 1):
        body = {"a": body}
    with pytest.raises(ValueError, match="nests at most"):
        FrozenObject(body)


def test_true_and_one_are_different_values() -> None:
    """JSON's true is not 1, although Python holds them equal."""
    assert FrozenObject({"a": True}) != FrozenObject({"a": 1})
    assert FrozenObject({"a": [True]}) != FrozenObject({"a": [1]})


def test_an_object_without_a_key_is_the_one_made_without_it() -> None:
    """The rest stays as it is, in order and frozen; the first object keeps all."""
    whole = FrozenObject({"b": [1, {"c": 2}], "a": 1, "z": "text"})
    rest = whole.without(("a", "not there"))
    assert rest == FrozenObject({"b": [1, {"c": 2}], "z": "text"})
    assert list(rest) == ["b", "z"]
    assert whole["a"] == 1
    assert hash(rest) == hash(FrozenObject({"z": "text", "b": [1, {"c": 2}]}))


@pytest.mark.parametrize(
    "altered",
    [
        lambda o: {**o, "extra": 1},
        lambda o: {k: v for k, v in o.items() if k != "site"},
        lambda o: {**o, "n": "1"},
        lambda o: {**o, "n": True},
        lambda o: {**o, "body": []},
        lambda o: {**o, "people": [{**o["people"][0], "name": "x"}]},
        lambda o: {**o, "people": [{**o["people"][0], "means": "guess"}]},
        lambda o: [o],
        lambda o: None,
    ],
)
def test_bytes_that_are_not_an_event_are_refused(altered: Any) -> None:
    """Missing, unknown and wrongly typed fields are refused when reading."""
    with pytest.raises(ValueError, match=r"event|body"):
        read_event(canonical_bytes(altered(changed().to_object())))


@pytest.mark.parametrize(
    "altered",
    [
        lambda data: data.replace(b'"n":1', b'"n": 1'),
        lambda data: data.replace(b'"n":1', b'"n":1.0'),
        lambda data: data.replace(b'"n":1', b'"n":1e0'),
        lambda data: data.replace(b'"n":1', b'"n":1,"n":1'),
        lambda data: data + b"\n",
        lambda data: data.replace(b"scanner", b"sc\\u0061nner"),
        lambda data: b"\xff" + data,
        lambda data: b"",
        lambda data: b"[" * 100_000,
    ],
)
def test_only_the_canonical_bytes_are_an_event(altered: Any) -> None:
    """Other bytes that say the same are refused, so that one event has one id."""
    with pytest.raises(ValueError, match=r"event|whole|canonical"):
        read_event(altered(changed().to_bytes()))


def test_the_id_is_the_digest_of_the_rfc_8785_bytes() -> None:
    """Contract: id = SHA-256 of the canonical bytes of the plain object."""
    event = changed()
    assert event.to_bytes() == canonical_bytes(event.to_object())
    assert sha256_hex(event.to_bytes()) == sha256_hex(canonical_bytes(json.loads(event.to_bytes())))


def test_a_side_object_is_salted_and_checked() -> None:
    """Equal fields with other salts have other digests; changed bytes are refused."""
    fields = FrozenObject({"number": "0048211"})
    first, second = make_side(fields, b"\x00" * 32), make_side(fields, b"\x01" * 32)
    assert first.digest != second.digest
    assert read_side(first) == fields
    with pytest.raises(ValueError, match="digest"):
        read_side(type(first)(digest=first.digest, data=second.data))
    with pytest.raises(ValueError, match="32 bytes"):
        make_side(fields, b"short")
