"""The balance of one site as whole-number rows that follow from what stands there.

`build_balance` keeps of the trade's equations (`rows.ROWS`) what the site has and gives plain rows
``sum(coefficient x reading) = 0``. A step that a site lacks leaves no empty term. The rows are
lists of whole numbers and keys, so that a small interpreter elsewhere evaluates the same rows.
"""

from __future__ import annotations

from pollstead.election.rules import CountyRules
from pollstead.election.station_type import SiteKind, StationType, VoterStep
from pollstead.election.values import require
from pollstead.reconcile.counts.row_making import Here, device_equation, lines_of, site_equation, style_sums
from pollstead.reconcile.counts.rows import OPTIONAL_STEPS, ROWS, USUAL_STEPS, Step
from pollstead.reconcile.counts.shapes import Balance, CountingDevice, Equation, TermLine
from pollstead.reconcile.counts.styles import NO_STYLES, StylesHere
from pollstead.reconcile.counts.terms import Per

__all__ = ["Balance", "CountingDevice", "Equation", "TermLine", "asks_by_style", "build_balance", "steps_of"]


def build_balance(
    site: str,
    kind: SiteKind,
    types: tuple[StationType, ...],
    devices: tuple[CountingDevice, ...],
    rules: CountyRules,
    more: frozenset[Step] = frozenset(),
    styles: StylesHere = NO_STYLES,
) -> Balance:
    """The equations of one site from its kind, its station types, its devices and the county rules.

    `types` are all station types of the county; `devices` those at this site; `more` the steps that the day
    brought beside those of the kind, such as ballots held apart by an order; `styles` the ballot styles that
    are counted here, with the sheets of each. Raises ValueError when
    a device names a station type that is not among them, or the county's sheets per ballot is 0.
    """
    known = {t.id: t for t in types}
    for device in devices:
        require(device.station_type in known, f"{device.id}: no station type {device.station_type!r}")
    used = tuple(known[use.station_type] for use in kind.uses if use.station_type in known)
    steps, unknown = steps_of(kind, used, rules, more)
    sheets = rules.whole("sheets-per-ballot")
    require(sheets >= 1, f"sheets-per-ballot must be >= 1, got {sheets}")
    here = Here(site=site, devices=devices, types=types, steps=steps, sheets=sheets, styles=styles)
    equations: list[Equation | None] = []
    for row in ROWS:
        if not all(step in steps for step in row.needs):
            continue
        if row.per is Per.SITE:
            equations.append(site_equation(row, here))
        elif row.per is Per.STYLE:
            equations += [site_equation(row, here, style) for style, _ in styles.sheets]
        else:
            equations += [device_equation(row, device, here) for device in devices]
    made = tuple(e for e in equations if e is not None)
    if Step.BY_STYLE in steps:
        made += style_sums(made, here)
    return Balance(
        site=site,
        sheets_per_ballot=sheets,
        steps=tuple(s for s in Step if s in steps),
        lines=lines_of(made, here),
        equations=made,
        unknown_steps=unknown,
        styles=styles if Step.BY_STYLE in steps else NO_STYLES,
    )


def steps_of(
    kind: SiteKind,
    used: tuple[StationType, ...],
    rules: CountyRules,
    more: frozenset[Step] = frozenset(),
) -> tuple[frozenset[Step], tuple[str, ...]]:
    """The steps of a kind of site, and the words in its ``balance`` that name none."""
    by_word = {_plain(step.value): step for step in Step}
    named = {by_word[_plain(word)] for word in kind.balance if _plain(word) in by_word}
    unknown = tuple(word for word in kind.balance if _plain(word) not in by_word)
    # Paper, scanner and the like follow from the station types: naming them changes nothing.
    steps = named & set(OPTIONAL_STEPS) if kind.balance else set(USUAL_STEPS)
    steps |= more
    voter_steps = {t.step for t in used}
    if VoterStep.MARK in voter_steps or VoterStep.CAST in voter_steps:
        steps.add(Step.PAPER)
        scans = any(t.step is VoterStep.CAST and t.counter("public") for t in used)
        steps.add(Step.SCANNER if scans else Step.BOX)
    if VoterStep.MARK_AND_CAST in voter_steps:
        steps.add(Step.ELECTRONIC)
    if any(t.memory_devices.count for t in used):
        steps.add(Step.MEMORY_COUNT)
    if Step.FLED in steps and rules.choice("fled-ballots") == "held, not cast":
        # A ballot that workers cast for the voter is in the counter already and is no term.
        steps.add(Step.FLED_HELD if Step.PAPER in steps else Step.LEFT)
        if Step.ELECTRONIC in steps:
            steps.add(Step.LEFT)
    if Step.PAPER not in steps:
        steps -= {Step.SPOILED, Step.DAMAGED, Step.AUXILIARY, Step.HELD_APART}
        steps -= {Step.ON_DEMAND, Step.RESUPPLY, Step.TRANSFER, Step.PAPER_COUNT}
        steps -= {Step.BY_STYLE, Step.CURBSIDE_TALLY}
    return frozenset(steps), unknown


def asks_by_style(kind: SiteKind) -> bool:
    """Whether a kind of site counts every ballot by its style."""
    return any(_plain(word) == _plain(Step.BY_STYLE.value) for word in kind.balance)


def _plain(word: str) -> str:
    return word.strip().lower().replace("_", " ").replace("-", " ")
