"""Difference notices of compared items: expected, observed, what the county's rule says, who decides."""

from __future__ import annotations

import datetime as dt

import msgspec

from pollstead.election.county import Election
from pollstead.election.notice import Notice, NoticeKind
from pollstead.election.rules import BY_ID
from pollstead.election.station_type import Moment
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.actions import Act, Action, action_for, read_again, resolution_of
from pollstead.reconcile.observed import What
from pollstead.reconcile.opening.labels import device_label, station_label
from pollstead.reconcile.opening.matching import WHAT_OF_ITEM
from pollstead.reconcile.opening.states import DIFFERENCES, ItemResult, ItemState
from pollstead.record.fold import Fold


def with_notices(
    results: tuple[ItemResult, ...],
    election: Election,
    date: dt.date,
    folded: Fold,
    over: frozenset[Moment],
) -> tuple[ItemResult, ...]:
    """The results, each difference with its action and notice.

    `over` are the moments whose time is past: only then is ``not seen`` a difference.
    """
    return tuple(_with_notice(result, election, date, folded, over) for result in results)


def _with_notice(
    result: ItemResult, election: Election, date: dt.date, folded: Fold, over: frozenset[Moment]
) -> ItemResult:
    if result.state is ItemState.WAITING and result.moment in over:
        return msgspec.structs.replace(result, notice=_alone(result, election, date))
    not_seen = result.state is ItemState.NOT_SEEN and result.moment in over
    if result.state not in DIFFERENCES and not not_seen:
        return result
    what = WHAT_OF_ITEM.get(result.what, What.OTHER)
    device = device_label(result.device, election) if result.device else ""
    action = action_for(what, device, election.rules, folded)
    if not not_seen and _wants_another_look(result):
        action = read_again(action)
    notice = Notice(
        kind=NoticeKind.DIFFERENCE,
        rule=_rule_key(result, action),
        subject=result.subject,
        day=date.isoformat(),
        text=_text(result, election),
        found=" / ".join(result.values),
        wanted=_wanted(result),
        remedy=action.text,
        who_decides=action.who_decides,
        depends=_depends(result),
    )
    return msgspec.structs.replace(
        result, action=action, notice=notice, resolution=resolution_of(notice, folded)
    )


def _alone(result: ItemResult, election: Election, date: dt.date) -> Notice:
    """An open item: the time is over and one person alone has read it."""
    rule = "second-person-at-opening" if result.moment is Moment.OPENING else "second-person-at-closing"
    where = station_label(result.station, election) if result.station else result.subject
    return Notice(
        kind=NoticeKind.OPEN_ITEM,
        rule=f"{rule}.{result.what.replace(' ', '-')}",
        subject=result.subject,
        day=date.isoformat(),
        text=message(
            N_("{words} of {where}: one person alone has read it."), words=result.words, where=where
        ),
        remedy=message(N_("A second person reads it too, or the site lead says why not.")),
        owner="site lead",
        who_decides=BY_ID[rule].who_decides,
        depends=_depends(result),
    )


def _wants_another_look(result: ItemResult) -> bool:
    """Whether to read again before anything is done: one person only, or two who differ."""
    if result.item is None:
        return False
    if len(result.values) > 1:
        return True
    return result.item.second_person and len(result.people) < 2


def _rule_key(result: ItemResult, action: Action) -> str:
    """The rule's part of the notice's key: one key for each thing, moment and sort of item."""
    rule = action.rule or "seen"
    return f"{rule}.{result.what.replace(' ', '-')}.{result.moment.value.replace(' ', '-')}"


def _depends(result: ItemResult) -> tuple[str, ...]:
    """What the notice rests on: the standing readings by event, and the expected value unless private."""
    events = sorted(o.event for o in result.observations if o.stands)
    private = result.item is not None and result.item.private
    return (*events, "" if private else result.expected, result.state.value)


def _text(result: ItemResult, election: Election) -> Message:
    where = station_label(result.station, election) if result.station else result.subject
    found = ", ".join(result.values)
    if result.state is ItemState.NOT_SEEN:
        template = (
            N_("{words} of {where}: not read before the doors opened.")
            if result.moment is Moment.OPENING
            else N_("{words} of {where}: not read at closing.")
        )
        return message(template, words=result.words, where=where)
    if result.state is ItemState.NOT_EXPECTED:
        return message(
            N_("{words} {found} was seen at {where}; no expected list names it there."),
            words=result.words,
            found=found,
            where=where,
        )
    if result.state is ItemState.SEEN_TWICE:
        return message(
            N_("{words} {found} of {where} was seen at another place too."),
            words=result.words,
            found=found,
            where=where,
        )
    if len(result.values) > 1:
        return message(
            N_("{words} of {where}: two people read different values, {found}; expected {wanted}."),
            words=result.words,
            where=where,
            found=found,
            wanted=result.expected,
        )
    return message(
        N_("{words} of {where}: read {found}, expected {wanted}."),
        words=result.words,
        where=where,
        found=found or "-",
        wanted=_wanted(result) or "-",
    )


def _wanted(result: ItemResult) -> str:
    if result.what == "clock" and result.item is not None:
        return f"+{result.expected} min, within {result.item.tolerance} min"
    return result.expected


def stops_device(result: ItemResult) -> bool:
    """Whether the county's confirmed rule takes the device out of service for this result."""
    return (
        result.notice is not None
        and result.action is not None
        and result.action.act is Act.OUT_OF_SERVICE
        and not result.resolution
    )


def holds_device(result: ItemResult) -> bool:
    """Whether the device waits for this result: something to read, to read again or to ask the office."""
    if result.moment is not Moment.OPENING:
        return False
    if result.notice is not None and not result.resolution:
        return result.action is None or result.action.act is not Act.RECORD_AND_GO_ON
    # An expected value that nobody ever told cannot be waited for; the reading itself is there.
    return result.state in (ItemState.NOT_SEEN, ItemState.WAITING) and not result.resolution
