"""Which kinds exist, how a body becomes a value, and what may never stand in a signed field."""

from __future__ import annotations

from types import MappingProxyType
from typing import Any, Final

import msgspec

from pollstead.election.values import Value
from pollstead.record.event import EVENT_VERSION, Event
from pollstead.record.frozen_json import FrozenObject
from pollstead.record.kinds import (
    calendars,
    calls,
    canvass,
    changes,
    custody,
    days,
    decks,
    explanations,
    heard,
    incidents,
    lines,
    offices,
    orders,
    papers,
    stocks,
    supplies,
    swaps,
    timings,
    warehouse,
)
from pollstead.record.kinds.body import Body, DayBody, Private

_BODIES: tuple[type[Body], ...] = (
    offices.DeviceCertified,
    offices.DeviceRevoked,
    offices.SnapshotTaken,
    offices.MappingConfirmed,
    offices.ValueFixed,
    offices.ValueUnfixed,
    offices.PlanComputed,
    offices.PlanApproved,
    offices.RuleConfirmed,
    offices.NoticeResolved,
    offices.ExpectedIssued,
    offices.ExpectedAmended,
    offices.PacketPrinted,
    offices.SideRedacted,
    changes.FactsChanged,
    calendars.TaskDone,
    calendars.TaskReopened,
    calls.CallMade,
    calls.ReadyEvidence,
    calls.ReadyUnknown,
    stocks.DeviceTested,
    stocks.ClosureSealed,
    stocks.SealVoided,
    stocks.StockReceived,
    stocks.StockCounted,
    stocks.IssuedAnyway,
    decks.DeckCompared,
    timings.TimingsTaken,
    days.SerialSeen,
    days.SealSeen,
    days.ClockSeen,
    days.ReportSeen,
    days.CountRead,
    days.SiteOpened,
    days.SiteClosed,
    heard.SiteHeard,
    days.DeviceOutOfService,
    days.MemoryDevicePacked,
    days.ThingReceived,
    days.EntryCorrected,
    custody.ThingSent,
    custody.ThingStated,
    custody.CaseSealsRead,
    custody.ReceiptGiven,
    custody.RetrievalSent,
    lines.LineCounted,
    incidents.IncidentReported,
    incidents.IncidentJoined,
    incidents.IncidentEnded,
    incidents.BallotJam,
    incidents.BinUsed,
    incidents.LeftThing,
    supplies.SupplyTold,
    supplies.SupplyPacked,
    orders.OrderGiven,
    orders.OrderAcknowledged,
    custody.DoorRead,
    swaps.DeviceSwapped,
    swaps.SheetsVoided,
    papers.SheetHeld,
    warehouse.InventoryBegun,
    warehouse.ThingScanned,
    warehouse.InventoryCounted,
    warehouse.ThingPacked,
    warehouse.CartChecked,
    canvass.CountByStyle,
    canvass.MemoryUploaded,
    canvass.ReceivingTotal,
    canvass.CanvassTotal,
    canvass.HoursTold,
    canvass.CanvassWork,
    canvass.CanvassFrozen,
    explanations.ExplanationSaved,
)
KINDS: Final = MappingProxyType({body.kind: body for body in _BODIES})
"""Every known kind by its name."""

PRIVATE_WORDS: Final = frozenset(
    {"name", "phone", "email", "address", "note", "notes", "reason", "words", "remark", "number", "party"}
)
"""Keys that may not occur anywhere in a signed body: what they hold belongs into the private part."""


class UnknownKind(Value, frozen=True):
    """A kind or version that this program does not know: kept, shown and never interpreted."""

    kind: str
    v: int


class Unreadable(Value, frozen=True):
    """A known kind whose body does not fit: kept and shown with what is wrong."""

    kind: str
    fault: str


def known(kind: str) -> type[Body]:
    """The class of a kind; raises ValueError naming it when this version does not know it."""
    if kind not in KINDS:
        raise ValueError(f"kind must be one of those in docs/formats/record.md, got {kind!r}")
    return KINDS[kind]


def body_object(body: Value) -> FrozenObject:
    """A typed body or private part as the frozen object that an event holds."""
    return FrozenObject(msgspec.to_builtins(body, enc_hook=_thaw))


def parse_body(kind: str, fields: FrozenObject) -> Body:
    """The typed body of a known kind; raises ValueError naming the field that does not fit."""
    try:
        return msgspec.convert(fields.thawed(), known(kind), dec_hook=_freeze)
    except msgspec.ValidationError as error:
        raise ValueError(f"the body of {kind} does not fit: {error}") from error


def parse_private(kind: str, fields: FrozenObject) -> Private:
    """The typed private part of a known kind; raises ValueError when there is none or it does not fit."""
    wanted = known(kind).private
    if wanted is None:
        raise ValueError(f"{kind} has no private part")
    try:
        return msgspec.convert(fields.thawed(), wanted, dec_hook=_freeze)
    except msgspec.ValidationError as error:
        raise ValueError(f"the private part of {kind} does not fit: {error}") from error


def body_of(event: Event) -> Body | UnknownKind | Unreadable:
    """What an event says, in this version's types; never raises.

    An event of an older version passes through an upcaster here; there is none yet, since this
    is version 1.
    """
    if event.v != EVENT_VERSION or event.kind not in KINDS:
        return UnknownKind(kind=event.kind, v=event.v)
    try:
        return parse_body(event.kind, event.body)
    except ValueError as error:
        return Unreadable(kind=event.kind, fault=str(error))


def private_words_in(fields: FrozenObject, place: str = "body") -> tuple[str, ...]:
    """The places in a body whose key names private data, in order."""
    found: list[str] = []
    for key, value in fields.items():
        if key in PRIVATE_WORDS:
            found.append(f"{place}.{key}")
        for index, inner in enumerate(value if isinstance(value, tuple) else (value,)):
            if isinstance(inner, FrozenObject):
                where = f"{place}.{key}[{index}]" if isinstance(value, tuple) else f"{place}.{key}"
                found.extend(private_words_in(inner, where))
    return tuple(found)


def check_writable(event: Event, private: FrozenObject | None) -> None:
    """Raise ValueError unless this version may write the event; called before anything is signed.

    The body and private part must fit their kind, the subject must be of the right sort, a
    correction's new value must fit the kind it corrects, and no signed key may name private data.
    """
    body = parse_body(event.kind, event.body)
    words = private_words_in(event.body)
    if words:
        raise ValueError(f"{', '.join(words)} belongs into the private part, not into a signed field")
    first_word = event.subject.partition("/")[0]
    if body.subjects and first_word not in body.subjects:
        raise ValueError(
            f"the subject of {event.kind} must be {' or '.join(body.subjects)}/…, got {event.subject!r}"
        )
    if isinstance(body, DayBody) and body.line and not body.sheet:
        raise ValueError(f"line {body.line} needs the sheet that it stands on, got none")
    if private is None:
        if body.private_required:
            raise ValueError(f"{event.kind} needs its private part (a reason), got none")
    else:
        parse_private(event.kind, private)
    if isinstance(body, days.EntryCorrected):
        _check_correction(body, private)


def _check_correction(body: days.EntryCorrected, private: FrozenObject | None) -> None:
    if body.of_kind == body.kind or body.of_kind.startswith("key."):
        raise ValueError(f"of_kind must be the kind of the first event, got {body.of_kind!r}")
    known(body.of_kind)
    if body.value:
        parse_body(body.of_kind, body.value)
    fields = None if private is None else private.get("fields")
    if fields is not None:
        parse_private(body.of_kind, fields)


def _thaw(value: Any) -> Any:
    if isinstance(value, FrozenObject):
        return value.thawed()
    raise NotImplementedError(type(value))


def _freeze(wanted: type, value: Any) -> Any:
    if wanted is FrozenObject:
        return value if isinstance(value, FrozenObject) else FrozenObject(value)
    raise NotImplementedError(wanted)
