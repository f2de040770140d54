"""A version of the canvass as a value: order, worklist, digest, difference between two."""

from __future__ import annotations

import hashlib

import msgspec
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from pollstead.reconcile.counts.canvass_version import (
    CanvassVersion,
    RowState,
    VersionRow,
    Work,
    WorkState,
    change_between,
)


def row(site: str, own: int | None, canvass: int | None, quantity: str = "ballots_cast") -> VersionRow:
    """A row as the county table has it."""
    difference = None if own is None or canvass is None else own - canvass
    state = RowState.NOT_READ if difference is None else RowState.DIFFERENCE if difference else RowState.EQUAL
    return VersionRow(
        site=site,
        name=f"Hall {site}",
        mode="election_day",
        quantity=quantity,
        style="",
        unit="ballots",
        own=own,
        received=None,
        canvass=canvass,
        received_difference=None,
        canvass_difference=difference,
        state=state,
        missing=(),
        events=(),
    )


def version(*rows: VersionRow, work: tuple[Work, ...] = ()) -> CanvassVersion:
    """A version of these rows."""
    return CanvassVersion(
        county="Larkmoor County",
        election="General election",
        rows=rows,
        totals=(),
        machines=(),
        strangers=(),
        explanations=(),
        work=work,
    )


def work_on(one: VersionRow, state: WorkState) -> Work:
    """Somebody's word on a row as its numbers are."""
    return Work(
        key=one.key,
        who="person/P010",
        state=state,
        numbers=one.numbers,
        person="person/P010",
        utc_ms=1,
        event="e",
    )


def test_the_largest_difference_stands_first_whatever_its_sign() -> None:
    """Then what misses a number, then what is equal."""
    found = version(
        row("S1", 5, 5), row("S2", 5, None), row("S3", 100, 101), row("S4", 1, 10)
    ).by_difference()
    assert [one.site for one in found] == ["S4", "S3", "S2", "S1"]


def test_what_was_explained_is_open_again_when_a_number_changes() -> None:
    """A word stands on the numbers that it was said on; somebody who looks goes on looking."""
    before, after = row("S1", 5, 7), row("S1", 5, 8)
    explained, looking = work_on(before, WorkState.EXPLAINED), work_on(before, WorkState.LOOKING)
    assert version(before, work=(explained,)).state_of(before) is WorkState.EXPLAINED
    assert version(after, work=(explained,)).state_of(after) is WorkState.OPEN
    assert version(after, work=(looking,)).state_of(after) is WorkState.LOOKING


def test_a_row_that_somebody_had_stays_on_the_worklist_when_it_is_equal() -> None:
    """Whoever has it sees that it came right; done rows come last."""
    done, equal, other = row("S1", 9, 1), row("S2", 3, 3), row("S3", 1, 2)
    held = version(
        done,
        equal,
        other,
        row("S4", 4, 4),
        work=(work_on(done, WorkState.RECORDED), work_on(equal, WorkState.WAITING)),
    )
    assert [one.site for one in held.worklist()] == ["S3", "S2", "S1"]


NUMBER = st.none() | st.integers(0, 10**6)
ROWS = st.lists(st.tuples(st.sampled_from(["S1", "S2", "S3"]), NUMBER, NUMBER), unique_by=lambda one: one[0])


@given(ROWS, ROWS)
def test_the_digest_is_that_of_the_canonical_bytes_and_changes_with_every_number(
    first: list[tuple[str, int | None, int | None]], second: list[tuple[str, int | None, int | None]]
) -> None:
    """Held against rfc8785, a library of RFC 8785; two versions are equal just when their digests are."""
    old, new = (version(*(row(*one) for one in rows)) for rows in (first, second))
    canonical = rfc8785.dumps(msgspec.to_builtins(old))
    assert old.digest == hashlib.sha256(canonical).hexdigest()
    assert msgspec.json.decode(canonical, type=CanvassVersion) == old
    assert (old.digest == new.digest) == (old == new)
    change = change_between(old, new)
    keys = {one.key for one in (*old.rows, *new.rows)}
    same = {one.key for one in old.rows if one in new.rows}
    assert {one.key for one in change.rows} == keys - same
    assert change_between(old, old).nothing
