"""What the office and the warehouse of Larkmoor did before the doors opened: tests, seals, calls, tasks.

All invented. Everything goes through the public API; numbers, minutes and salts are fixed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

from pollstead.election.county import Election
from pollstead.election.station_type import Moment as When
from pollstead.election.station_type import NumberPolicy
from pollstead.plan.decks.misread import run_mistakes, with_changes
from pollstead.plan.terms.decks import MistakeKind
from pollstead.plan.terms.version import ExpectedSeal, PlanVersion
from pollstead.reconcile.decks.runs import DeckBook
from pollstead.record.event import Part, Person
from pollstead.record.facts import Fold
from pollstead.record.kinds import calendars, stocks
from pollstead.record.kinds.body import Body, Private, Reason
from pollstead.record.kinds.days import SealNumber
from pollstead.work.calls_example import calls_to_play
from pollstead.work.decks import compared, counter_moves, decks_of, event_of, results_of

TESTED_DAYS_BEFORE = 22
TESTER, SECOND_TESTER = "P009", "P010"
SEALER, SECOND_SEALER = "P002", "P003"
CALLER = "P007"

Write = Callable[[Body, str, tuple[Person, ...], Private | None], str]
"""Writes one event: body, subject, people, private part; gives its id."""
Someone = Callable[..., Person]


def decks_read(election: Election, plan: PlanVersion, write: Write, someone: Someone, fold: Fold) -> None:
    """Every counting device at a site reads the decks of the site's ballots, and its report is compared.

    At S09 the first report has two people of one contest swapped; the ballots are loaded anew and read again.
    """
    made = decks_of(election).decks
    book = DeckBook(election, made, fold)
    pair = (someone(TESTER), someone(SECOND_TESTER, Part.SECOND))
    swapped = True
    for site in plan.sites:
        for device in book.of_site(site):
            counter = next(d.lifetime_counter for d in election.devices if d.id == device.device)
            decks = made.only(device.wanted)
            step = counter_moves(election, decks, device.station_type)
            reports = [results_of(decks).totals]
            if site.site == "S09" and swapped:
                swapped = False
                wrong = next(
                    with_changes(results_of(decks), one.changes).totals
                    for one in run_mistakes(decks.faces, decks.decks)
                    if one.mistake.kind is MistakeKind.SWAPPED and one.mistake.contest == "governor"
                )
                reports = [wrong, *reports]
            # At a vote center every deck of the county is read: a young scanner's counter cannot hold them.
            moved_by = step * len(reports)
            before = None if counter is None or counter < moved_by else counter - moved_by
            again = ""
            for report in reports:
                after = None if before is None else before + step
                moved = None if before is None else (step, step)
                body = event_of(
                    decks,
                    compared(decks, report, moved),
                    again=again,
                    lifetime_before=before,
                    lifetime_after=after,
                )
                why = Reason(reason="Ballots loaded anew") if again else None
                again, before = write(body, device.device, pair, why), after


def devices_tested(election: Election, plan: PlanVersion, write: Write, someone: Someone) -> None:
    """Every device that the plan puts at a site or holds back is tested by two people and set to zero."""
    used = {part.device for site in plan.sites for st in site.stations for part in st.parts if part.device}
    used |= {spare.device for spare in plan.spares}
    pair = (someone(TESTER), someone(SECOND_TESTER, Part.SECOND))
    for device in election.devices:
        if device.id in used and device.state == "in service":
            tested = stocks.DeviceTested(
                result="pass",
                zero="zero" if device.lifetime_counter is not None else "not_read",
                lifetime_counter=device.lifetime_counter,
                memory_devices=device.memory_devices,
            )
            write(tested, device.id, pair, None)


def closures_sealed(plan: PlanVersion, write: Write, someone: Someone) -> None:
    """The number on every seal put on after test is read by two people, each in an event of their own."""
    for seal in _seals(plan):
        if seal.applied is When.AFTER_TEST and seal.number and seal.number_policy is not NumberPolicy.TICKED:
            for reader in (SEALER, SECOND_SEALER):
                body = stocks.ClosureSealed(position=seal.position)
                write(body, seal.closure, (someone(reader),), SealNumber(number=seal.number))


def _seals(plan: PlanVersion) -> tuple[ExpectedSeal, ...]:
    at_sites = tuple(seal for site in plan.sites for station in site.stations for seal in station.seals)
    return (*at_sites, *(seal for spare in plan.spares for seal in spare.seals))


def evening_calls(election: Election, write: Write, someone: Someone) -> None:
    """The evening before, each opener and building contact is called."""
    for call in calls_to_play(election):
        write(call.body, call.subject, (someone(CALLER),), call.private)


def tasks_done(
    election: Election, ended: tuple[tuple[str, dt.date], ...], write: Write, someone: Someone
) -> None:
    """The calendar's tasks that ended before the lists were issued are ticked by their owners."""
    owners = {task.id: task.owner for task in election.tasks}
    for task, on in ended:
        body = calendars.TaskDone(on=on.isoformat())
        evidence = calendars.Evidence(evidence="Seen in the office's folder (invented).")
        write(body, f"task/{task}", (someone(owners.get(task) or "P001"),), evidence)
