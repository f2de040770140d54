"""Search finds a thing by what stands on it, says how a near text differs, hides what one may not see."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.show.web.capabilities import Role
from pollstead.show.web.finding import Index, Sort, Thing, how_it_differs, plain_key


def thing(*codes: str, sort: Sort = Sort.DEVICE) -> Thing:
    """A thing with these texts on it."""
    return Thing(sort=sort, codes=codes, subject=f"x/{codes[0]}")


INDEX = Index(
    [
        thing("LM-V-0042", "TAG 17"),
        thing("LM-V-0043"),
        thing("LM-V-0402"),
        thing("LM-O1-77"),
        thing("Ansel Civic Hall", "S01", sort=Sort.SITE),
        thing("4711", sort=Sort.SEAL),
        thing("471122", sort=Sort.SEAL),
    ]
)


def found(query: str) -> list[tuple[str, int, str]]:
    """What is found: text, rank, and how it differs in words."""
    matches, _ = INDEX.find(query)
    return [(m.code, m.rank, m.differs.english() if m.differs else "") for m in matches]


@pytest.mark.parametrize("query", ["LM-V-0042", "lm-v-0042", "LMV0042", " lm v 0042 ", "tag 17", "TAG-17"])
def test_the_same_text_in_other_marks_or_capitals_comes_first_and_differs_in_nothing(query: str) -> None:
    """Dashes, blanks and capitals do not matter; the exact text is rank 0, other ways to write it rank 1."""
    first = found(query)[0]
    assert first[2] == "" and first[1] == (0 if query == "LM-V-0042" else 1)
    assert INDEX.find(query)[0][0].thing.codes[0] == "LM-V-0042"


@pytest.mark.parametrize(
    ("query", "code", "says"),
    [
        ("LM-01-77", "LM-O1-77", "look alike"),
        ("LM-OI-77", "LM-O1-77", "look alike"),
        ("LM-V-0047", "LM-V-0042", "position 7: 2 in place of 7"),
        ("LM-V-042", "LM-V-0042", "more than you typed"),
        ("LM-V-00422", "LM-V-0042", "fewer than you typed"),
        ("LM-V-0420", "LM-V-0402", "changed places, at position 6"),
        ("47112", "4711", "fewer than you typed"),
        ("471", "4711", "part of it"),
        ("civic", "Ansel Civic Hall", "part of it"),
    ],
)
def test_a_near_text_is_found_and_says_how_it_differs(query: str, code: str, says: str) -> None:
    """O for zero, I for one, one wrong, missing or extra character, neighbors exchanged, a part of it."""
    assert any(c == code and says in words for c, _, words in found(query)), found(query)


def test_nothing_far_is_found_and_an_empty_text_finds_nothing() -> None:
    """A text that is near to nothing finds nothing, and so do marks alone."""
    assert found("QQ-9-9999999") == [] and found("") == [] and found(" -- ") == []


@given(st.text("ABO0I1-5S ", min_size=1, max_size=8), st.integers(0, 7), st.sampled_from("XYZ"))
def test_exact_ranks_before_near_and_one_wrong_character_is_found(code: str, at: int, wrong: str) -> None:
    """For any code: itself first; with one character wrong it is still found, and never as an exact match."""
    key = plain_key(code)
    index = Index([thing(code)])
    matches, total = index.find(code)
    assert (total == 1 and matches[0].differs is None) or not key
    if len(key) >= 4:
        at %= len(key)
        near = key[:at] + wrong + key[at + 1 :]
        matches, _ = index.find(near)
        assert [m.thing.codes for m in matches] == [(code,)] and matches[0].differs is not None
        assert how_it_differs(near, key, 1).english().startswith("One character differs")


def ask(app: Any, role: Role, query: str) -> str:
    """The page of results for a role."""
    with app.client(role, "person/P003") as client:
        answer = client.get("/search", params={"q": query})
    assert answer.status_code == 200
    return str(answer.text)


@pytest.mark.full
def test_seals_and_people_are_found_only_by_those_who_may_see_them(issued_app: Any) -> None:
    """A seal number before opening and a person's name stay hidden from who does not need them."""
    seal = next(s.number for s in issued_app.folder.election().closure_seals if s.number)
    assert "Nothing has this on it" not in ask(issued_app, Role.WAREHOUSE, seal)
    for role in (Role.HELPER, Role.CLERK, Role.READER):
        assert "Nothing has this on it" in ask(issued_app, role, seal), role
    assert "Nothing has this on it" not in ask(issued_app, Role.CLERK, "Odell Briarly")
    for role in (Role.READER, Role.WAREHOUSE):
        assert "Nothing has this on it" in ask(issued_app, role, "Odell Briarly"), role


@pytest.mark.full
def test_serial_site_precinct_and_entry_are_found_with_where_they_belong(issued_app: Any) -> None:
    """A serial leads to its site's stations; an entry is found by the beginning of its id."""
    folder = issued_app.folder
    plan = folder.current().site("S01")
    part = next(p for s in plan.stations for p in s.parts if p.serial)
    text = ask(issued_app, Role.HELPER, part.serial)
    assert 'href="/site/S01#stations"' in text and plan.name in text
    assert 'href="/site/S02"' in ask(issued_app, Role.READER, "s02")
    event = folder.fold().order[-1]
    assert f"/entry/{event}" in ask(issued_app, Role.HELPER, event[:10])
    before = len(folder.store.events.all())
    ask(issued_app, Role.HELPER, "<script>alert(1)</script>")
    assert len(folder.store.events.all()) == before
