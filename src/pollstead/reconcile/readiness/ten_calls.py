"""Calls in the order to make them: each person once, worth the risk times voters that good answers take away.

The worth of one call is the fall of risk times voters, summed over its sites, when each of its questions
becomes known good and all else stays. How far the first ten hang on the guesses is tried by halving and
doubling all weights, then those of each question alone.
"""

from __future__ import annotations

from collections import defaultdict

from pollstead.election.contacts import QUESTIONS
from pollstead.election.instants import format_clock
from pollstead.election.words import message
from pollstead.reconcile.readiness.chance import late_of
from pollstead.reconcile.readiness.ground import Ground
from pollstead.reconcile.readiness.remedies import REMEDIES
from pollstead.reconcile.readiness.states import Ask, Call, Level, ReadyItem, SiteReady
from pollstead.reconcile.readiness.weights import Weights

TEN = 10
NAMED = 3
"""Sites named in a question; more stand in the list beside it."""
CALL_MINUTES_MORE = 1
"""Each further question of a call that is made anyway."""

Grouped = dict[tuple[str, str, str], list[tuple[SiteReady, ReadyItem]]]
Shares = dict[tuple[str, Level], int]


def calls_of(
    ground: Ground, sites: tuple[SiteReady, ...], weights: Weights
) -> tuple[tuple[Call, ...], tuple[Call, ...], tuple[Call, ...]]:
    """Calls to people and acts at the desk, each in the order to make them; then everybody, by id."""
    groups: Grouped = defaultdict(list)
    for site in sites:
        for item in site.open_items:
            # At the desk each kind of act stands apart; with a person one call asks all.
            whom = item.whom
            key = (whom.person, "", "") if whom.person else ("", whom.role, item.question)
            groups[key].append((site, item))
    every: Grouped = defaultdict(list)
    for site in sites:
        for item in site.items:
            if item.whom.person:
                every[item.whom.person, "", ""].append((site, item))
    worth = _worth(groups, weights.table())
    always = _always(groups, weights)
    made = [_call(ground, key, found, weights, worth[key], key in always) for key, found in groups.items()]
    made.sort(key=lambda call: (-call.worth_micro, call.minutes, call.key))
    everyone = tuple(_call(ground, key, every[key], weights, 0, False) for key in sorted(every))
    return tuple(c for c in made if c.person), tuple(c for c in made if not c.person), everyone


def _worth(groups: Grouped, shares: Shares) -> dict[tuple[str, str, str], int]:
    """What each call takes away, in millionths of a voter."""
    now: dict[str, tuple[int, dict[str, tuple[int, str, str]]]] = {}
    found: dict[tuple[str, str, str], int] = {}
    for key, pairs in groups.items():
        by_site: dict[str, tuple[SiteReady, dict[str, tuple[int, str, str]]]] = {}
        for site, item in pairs:
            if site.site not in now:
                rows = {one.id: _row(one, shares[one.question, one.level]) for one in site.items}
                now[site.site] = (late_of(rows.values()), rows)
            mine = by_site.setdefault(site.site, (site, dict(now[site.site][1])))[1]
            mine[item.id] = _row(item, shares[item.question, Level.GOOD])
        total = sum(
            (now[site.site][0] - late_of(rows.values())) * site.voters for site, rows in by_site.values()
        )
        found[key] = total // 1000
    return found


def _row(item: ReadyItem, ppm: int) -> tuple[int, str, str]:
    return ppm, item.group, item.member or item.id


def _first_ten(groups: Grouped, shares: Shares) -> frozenset[tuple[str, str, str]]:
    worth = _worth({key: found for key, found in groups.items() if key[0]}, shares)
    return frozenset(sorted(worth, key=lambda key: (-worth[key], key))[:TEN])


def _always(groups: Grouped, weights: Weights) -> frozenset[tuple[str, str, str]]:
    """The calls that are among the first ten with every halving and doubling tried."""
    found = _first_ten(groups, weights.table())
    asked = {item.question for pairs in groups.values() for _, item in pairs}
    for question in ("", *(q for q in QUESTIONS if q in asked)):
        for up, down in ((1, 2), (2, 1)):
            if not found:
                return found
            found &= _first_ten(groups, weights.times(up, down, question).table())
    return found


def _call(
    ground: Ground,
    key: tuple[str, str, str],
    found: list[tuple[SiteReady, ReadyItem]],
    weights: Weights,
    worth: int,
    stays: bool,
) -> Call:
    person = key[0]
    roles = dict.fromkeys(item.whom.role for _, item in found)
    questions = dict.fromkeys(item.question for _, item in found)
    longest = max(weights.of(question).minutes for question in questions)
    asks = _asks(ground, found)
    minutes = longest + CALL_MINUTES_MORE * (len(asks) - 1)
    rows = [row for row in ground.election.site_contacts if row.person == person] if person else []
    tried = [
        call
        for call in (ground.calls.with_person(person) if person else ())
        if not call.answered and ground.fresh(call.utc_ms)
    ]
    return Call(
        person=person,
        role=next(iter(roles), "office"),
        asks=asks,
        minutes=minutes,
        worth_micro=worth,
        phones=ground.phones(person) if person else (),
        from_min=min((r.from_min for r in rows if r.from_min is not None), default=None),
        to_min=max((r.to_min for r in rows if r.to_min is not None), default=None),
        attempts=len(tried),
        stays=stays,
    )


def _asks(ground: Ground, found: list[tuple[SiteReady, ReadyItem]]) -> tuple[Ask, ...]:
    """The questions of one call: the same question about several sites is asked once."""
    alike: dict[tuple[str, str], list[tuple[SiteReady, ReadyItem]]] = defaultdict(list)
    for site, item in found:
        needed = ground.needed_by(site.site) if "{needed}" in REMEDIES[item.question].ask else 0
        alike[item.question, "--:--" if needed is None else format_clock(needed)].append((site, item))
    return tuple(_ask(question, needed, pairs) for (question, needed), pairs in alike.items())


def _ask(question: str, needed: str, pairs: list[tuple[SiteReady, ReadyItem]]) -> Ask:
    remedy = REMEDIES[question]
    sites = {site.site: site.name for site, _ in pairs}
    names = tuple(sites.values())
    given = {"site": ", ".join(names[:NAMED]) + (" …" if len(names) > NAMED else ""), "needed": needed}
    return Ask(
        question=question,
        sites=tuple(sites),
        names=names,
        items=tuple(dict.fromkeys(item.id for _, item in pairs)),
        words=message(remedy.ask, **{k: v for k, v in given.items() if f"{{{k}}}" in remedy.ask}),
        yes=message(remedy.yes),
        no=message(remedy.no),
    )
