"""Labels of the warehouse: one serial as Code 128, as QR and in words; command cards; a test page.

A code holds the serial alone. Module width is 0.38 mm or more for Code 128 and 0.33 mm or more for QR, which
are read back from tilted, blurred prints. A label that cannot hold its codes at that width is refused.
"""

from __future__ import annotations

from typing import Final

import msgspec

from pollstead.election.county import Election
from pollstead.election.door_words import door_words
from pollstead.election.label_stock import PAPERS_UM, LabelStock
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.plan.seals.blocks import Bags
from pollstead.plan.stations.carts import cart_lists
from pollstead.plan.terms.version import PlanVersion
from pollstead.reconcile.custody.loads import BOX, site_key
from pollstead.show.commands import WORDS, Command
from pollstead.show.one_paper import Template, paper_or_refusal
from pollstead.show.packet.code128 import QUIET_MODULES, modules_of, widths_of
from pollstead.show.packet.setting import PrintFailed
from pollstead.show.packet.wording import Say

TEMPLATE: Final = Template("packet", "labels.typ", "job")
LEAST_CODE128_UM: Final = 380
LEAST_QR_UM: Final = 340
MOST_CODE128_UM: Final = 500
MOST_QR_UM: Final = 800
QR_QUIET: Final = 4
INSET_UM: Final = 1_600
"""Free edge inside a label: sheets are cut and fed with some play."""


class Label(Value, frozen=True, kw_only=True):
    """One label: the code, the words beside it; `title` is printed large."""

    code: str
    title: str
    lines: tuple[str, ...] = ()


class DrawnLabel(Value, frozen=True, kw_only=True):
    """A label as geometry: bars as (from, width) in micrometers, QR rows as 0 and 1, and the words."""

    title: str
    lines: tuple[str, ...]
    code: str
    bars: tuple[tuple[int, int], ...]
    bars_width_um: int
    qr: tuple[str, ...]
    qr_module_um: int
    alt: str


class LabelJob(Value, frozen=True, kw_only=True):
    """Sheets of labels to set: the stock, what each place holds (None is left free), moved by `shift`."""

    stock: LabelStock
    paper_um: tuple[int, int]
    shift_um: tuple[int, int]
    title: str
    language: str
    mark: str
    labels: tuple[DrawnLabel | None, ...]
    test: bool
    timestamp: int


def labels_of(
    what: str, election: Election, plan: PlanVersion | None, bags: Bags, say: Say
) -> tuple[Label, ...]:
    """The labels of one sort of thing: one of `KINDS`; bags are those of seals."""
    names = {site.id: site.name for site in election.sites}

    def site(key: str) -> str:
        return f"{key.removeprefix('site/')} {names.get(key, '')}".strip() if key else ""

    if what == "devices":
        return tuple(
            Label(
                code=d.serial,
                title=d.serial,
                lines=tuple(filter(None, (d.tag, " · ".join(filter(None, (d.kind, site(d.home))))))),
            )
            for d in election.devices
        )
    if what == "carts":
        return tuple(
            Label(
                code=c.tag or c.cart,
                title=c.tag or c.cart,
                lines=(" · ".join(filter(None, (say(N_("Cart")), site(c.site)))),),
            )
            for c in cart_lists(election.devices, election.carts, {})
        )
    if what == "bags":
        return tuple(
            Label(
                code=f"BAG-{key.removeprefix('site/')}-{number}",
                title=site(key),
                lines=(say(N_("Bag of seals")), kind),
            )
            for key, number, kind in _bag_rows(bags)
        )
    if what in ("memory-cases", "cases"):
        mark, words = (
            ("MDC", N_("Memory-device case")) if what == "memory-cases" else (BOX, N_("Supply case"))
        )
        sites = [s.site for s in plan.sites] if plan is not None else [s.id for s in election.sites]
        return tuple(
            Label(code=f"{mark}-{key.removeprefix('site/')}", title=site(key), lines=(say(words),))
            for key in sites
        )
    if what == "doors":
        words_of = door_words(site_key(s.id) for s in election.sites)
        ask = say(N_("Read this word before anything is handed over."))
        return tuple(Label(code=word, title=word, lines=(site(key), ask)) for key, word in words_of.items())
    if what == "badges":
        return badge_labels(election, say)
    if what == "commands":
        return tuple(
            Label(code=one.value, title=say(WORDS[one][0]), lines=(say(WORDS[one][1]),)) for one in Command
        )
    raise ValueError(f"what must be one of {', '.join(KINDS)}, got {what!r}")


KINDS: Final = ("devices", "carts", "bags", "memory-cases", "cases", "doors", "badges", "commands")


BADGE_STOCK: Final = "2x5"
"""The common sheet that badges are made for where none is named: smaller labels cannot hold their codes."""


def badge_labels(election: Election, say: Say, only: frozenset[str] = frozenset()) -> tuple[Label, ...]:
    """Badges of those who belong to no site, and of those named by id; the code is the person's id alone.

    How much of the name stands beside it is the county's rule ``badge-name``.
    """
    how = election.rules.choice("badge-name")
    found = []
    for person in election.people:
        if person.site and person.id not in only:
            continue
        first, _, rest = person.name.partition(" ")
        short = f"{first} {rest[:1]}.".removesuffix(" .")
        name = {"whole name": person.name, "first name": short}.get(how, "")
        lines = (person.role, person.id) if name else (person.role,)
        found.append(
            Label(
                code=f"person/{person.id.removeprefix('person/')}",
                title=name or person.id,
                lines=tuple(filter(None, lines)) or (say(N_("Badge")),),
            )
        )
    return tuple(found)


def _bag_rows(bags: Bags) -> list[tuple[str, int, str]]:
    """Site, number of its bag from 1, kind of seal; a seal number never stands on a bag's label."""
    rows: list[tuple[str, int, str]] = []
    for bag in bags.bags:
        number = 1 + sum(site == bag.site for site, _, _ in rows)
        rows.append((bag.site, number, bag.seal_kind))
    return rows


def drawn(label: Label, stock: LabelStock) -> DrawnLabel:
    """The label as geometry on this stock; raises PrintFailed where its codes do not fit it readably."""
    import segno

    room, high = stock.width_um - 2 * INSET_UM, stock.height_um - 2 * INSET_UM
    modules = modules_of(label.code)
    bars_um = max(LEAST_CODE128_UM, min(MOST_CODE128_UM, room // modules))
    code = segno.make(label.code, error="m", micro=False, boost_error=False)
    qr = tuple("".join(map(str, row)) for row in code.matrix)
    side = len(qr) + 2 * QR_QUIET
    # The square grows with the label: to three fifths of its height, to a third of its width at most.
    module_um = max(LEAST_QR_UM, min(MOST_QR_UM, high * 58 // 100 // side, room // 3 // side))
    qr_um = side * module_um
    if modules * bars_um > room or qr_um + LEAST_BARS_UM > high:
        raise PrintFailed(
            message(
                N_(
                    "The code {code} needs {wide} × {high} mm, and a label {stock} has {width} × {height} mm "
                    "inside. Choose a larger label."
                ),
                code=label.code,
                wide=f"{modules * bars_um / 1000:.1f}",
                high=f"{(qr_um + LEAST_BARS_UM) / 1000:.1f}",
                stock=stock.id,
                width=f"{room / 1000:.1f}",
                height=f"{high / 1000:.1f}",
            )
        )
    at, bars = QUIET_MODULES, []
    for number, width in enumerate(widths_of(label.code)):
        if number % 2 == 0:
            bars.append((at * bars_um, width * bars_um))
        at += width
    return DrawnLabel(
        title=label.title,
        lines=label.lines,
        code=label.code,
        bars=tuple(bars),
        bars_width_um=modules * bars_um,
        qr=qr,
        qr_module_um=module_um,
        alt=label.code,
    )


LEAST_BARS_UM: Final = 7_000
"""Bars lower than this are hard to hit by hand."""


def label_job(
    labels: tuple[Label, ...],
    stock: LabelStock,
    *,
    election: Election,
    say: Say,
    start: int = 1,
    shift_um: tuple[int, int] = (0, 0),
    test: bool = False,
) -> LabelJob:
    """Sheets that begin at place `start` of the first; with `test`, one sheet of outlines and no code."""
    if not 1 <= start <= stock.per_sheet:
        raise PrintFailed(
            message(
                N_("The first place must be 1 to {most}, got {start}."), most=stock.per_sheet, start=start
            )
        )
    places = () if test else (*(None for _ in range(start - 1)), *(drawn(label, stock) for label in labels))
    return LabelJob(
        stock=stock,
        paper_um=PAPERS_UM[stock.paper],
        shift_um=shift_um,
        title=say(N_("Labels")),
        language=say.language,
        mark=say(N_("PRACTICE")) if election.practice else "",
        labels=places,
        test=test,
        timestamp=election.operating_day(election.election_day).start().utc_ms // 1000,
    )


def labels_pdf(job: LabelJob) -> bytes:
    """The PDF, the same bytes for the same job; raises `PrintFailed` as `paper_or_refusal` does."""
    return paper_or_refusal(TEMPLATE, msgspec.to_builtins(job))
