"""The canvass at the office: the version as it stands now, who has which row, versions that were kept."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import msgspec

from pollstead.election.canonical import canonical_bytes
from pollstead.election.values import Value
from pollstead.reconcile.counts.canvass_version import (
    WORK_STATES,
    CanvassVersion,
    Explanation,
    RowState,
    VersionRow,
    Work,
    make_version,
)
from pollstead.reconcile.counts.county_shapes import CountyTable
from pollstead.reconcile.counts.totals import COUNTY
from pollstead.reconcile.observed import short_site
from pollstead.record.kinds.canvass import CanvassFrozen, CanvassWork
from pollstead.record.kinds.days import Remark
from pollstead.record.kinds.explanations import ExplanationSaved
from pollstead.record.write import Moment

if TYPE_CHECKING:
    from pollstead.election.county import Election
    from pollstead.record.event import Person, Signed
    from pollstead.record.facts import Fact, Fold, Reading
    from pollstead.store.desk import Desk
    from pollstead.store.opening import Store

VERSIONS: Final = "canvass/versions"
LABEL: Final = "canvass"


class Frozen(Value, frozen=True, kw_only=True):
    """A version that was kept: its number and digest, when and by whom; `said` is why, in their words."""

    number: int
    digest: str
    before: str
    utc_ms: int
    person: str
    rows: int
    differences: int
    event: str
    said: str


class NothingNew(ValueError):
    """The canvass is just as the last version has it."""


class NotKept(ValueError):
    """The numbers of a version are not in this store: it was kept on another computer."""


def version_now(table: CountyTable, election: Election, folded: Fold) -> CanvassVersion:
    """The canvass as the record has it now."""
    return make_version(
        table,
        county=election.county,
        election=election.name,
        explanations=_explanations(folded),
        work=_work(folded),
    )


def notes_of(folded: Fold) -> dict[str, str]:
    """What people wrote about rows, by the row's key: from the private parts, so never in a version."""
    found = {}
    for fact in folded.named(CanvassWork.kind):
        for reading in fact.current:
            if reading.private is not None:
                found[_key(fact)] = str(reading.private.get("remark", ""))
    return found


def words_of_explanations(folded: Fold) -> dict[str, tuple[str, str]]:
    """The words of each saved explanation and what its person added, by event; from the private parts."""
    found = {}
    for fact in folded.named(ExplanationSaved.kind):
        for reading in fact.readings:
            if reading.private is not None:
                private = reading.private
                found[reading.event] = (str(private.get("words", "")), str(private.get("own", "")))
    return found


def say_work(
    desk: Desk,
    row: VersionRow,
    *,
    state: str,
    who: str,
    note: str,
    people: tuple[Person, ...],
    moment: Moment,
) -> Signed:
    """Record who has a row and how far it is; `state` is a coded word of ``canvass.work``."""
    subject = f"site/{row.site}" if row.site else COUNTY
    body = CanvassWork(
        mode=row.mode,
        quantity=row.quantity,
        style=row.style,
        state=state,  # type: ignore[arg-type]
        numbers=row.numbers,
        who=who,
    )
    key = {"mode": row.mode, "quantity": row.quantity, "style": row.style}
    return desk.recorder.record(
        body,
        subject=subject,
        site=subject if row.site else "",
        people=people,
        moment=moment,
        after=desk.fold().heads(subject, CanvassWork.kind, **key),
        private=Remark(remark=note) if note else None,
    )


def frozen_versions(folded: Fold) -> tuple[Frozen, ...]:
    """Every version that was kept, the newest first."""
    found = [_frozen(reading) for fact in folded.named(CanvassFrozen.kind) for reading in fact.current]
    return tuple(sorted(found, key=lambda one: (-one.number, -one.utc_ms, one.event)))


def freeze(
    desk: Desk, version: CanvassVersion, *, reason: str, people: tuple[Person, ...], moment: Moment
) -> Frozen:
    """Keep a version under its digest, numbered after the last; raises NothingNew where that one is equal."""
    earlier = frozen_versions(desk.fold())
    last = earlier[0] if earlier else None
    if last is not None and last.digest == version.digest:
        raise NothingNew(f"version {last.number} holds just this")
    digest = desk.store.snapshots.save(canonical_bytes(version), label=LABEL, created_utc_ms=moment.utc_ms)
    body = CanvassFrozen(
        digest=digest,
        version=1 if last is None else last.number + 1,
        rows=len(version.rows),
        differences=sum(row.state is RowState.DIFFERENCE for row in version.rows),
        before="" if last is None else last.digest,
    )
    said = desk.recorder.record(
        body,
        subject=VERSIONS,
        people=people,
        moment=moment,
        after=() if last is None else (last.event,),
        private=Remark(remark=reason) if reason else None,
    )
    return next(one for one in frozen_versions(desk.fold(private=True)) if one.event == said.id)


def load_version(store: Store, digest: str) -> CanvassVersion:
    """A kept version, checked against its digest. Raises NotKept where its numbers are not in this store."""
    if digest not in {line.digest for line in store.snapshots.list()}:
        raise NotKept(f"version {digest[:12]} is not kept in this store")
    return msgspec.json.decode(store.snapshots.load(digest), type=CanvassVersion)


def _frozen(reading: Reading) -> Frozen:
    value = reading.value
    return Frozen(
        number=int(str(value["version"])),
        digest=str(value["digest"]),
        before=str(value.get("before", "")),
        utc_ms=reading.utc_ms,
        person=reading.people[0].person if reading.people else "",
        rows=int(str(value["rows"])),
        differences=int(str(value["differences"])),
        event=reading.event,
        said=str(reading.private.get("remark", "")) if reading.private is not None else "",
    )


def _key(fact: Fact) -> str:
    place = "county" if fact.subject == COUNTY else short_site(fact.subject)
    parts = (place, *(str(fact.key[name]) for name in ("mode", "quantity", "style")))
    return "/".join(filter(None, parts))


def _work(folded: Fold) -> tuple[Work, ...]:
    """The last word on each row: where two that did not know each other both stand, the later one."""
    found = []
    for fact in folded.named(CanvassWork.kind):
        if not fact.current:
            continue
        last = max(fact.current, key=lambda reading: folded.moment(reading.event, reading.utc_ms))
        found.append(
            Work(
                key=_key(fact),
                who=str(last.value.get("who", "")),
                state=WORK_STATES[str(last.value["state"])],
                numbers=str(last.value["numbers"]),
                person=last.people[0].person if last.people else "",
                utc_ms=last.utc_ms,
                event=last.event,
            )
        )
    return tuple(found)


def _explanations(folded: Fold) -> tuple[Explanation, ...]:
    return tuple(
        Explanation(
            site=short_site(fact.subject),
            event=reading.event,
            person=reading.people[0].person if reading.people else "",
            utc_ms=reading.utc_ms,
            stands=not reading.replaced_by and not reading.withdrawn,
        )
        for fact in folded.named(ExplanationSaved.kind)
        for reading in fact.readings
    )
