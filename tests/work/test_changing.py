"""A late change from the first look to paper: all of it, only it, once, and taken up again after a kill."""

from __future__ import annotations

import datetime as dt
import importlib.util
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from pollstead.plan.terms.part import NoWatch
from pollstead.plan.terms.version import SheetKind
from pollstead.reconcile.changed.on_the_day import swaps_of
from pollstead.reconcile.changed.terms import Act
from pollstead.reconcile.day import reconcile_day
from pollstead.reconcile.issued import issued_lists
from pollstead.reconcile.observed import observations_of
from pollstead.work.changing_kept import open_intent
from pollstead.work.changing_list import change_lines
from pollstead.work.changing_steps import Step, carry_on, drop, steps_left
from pollstead.work.changing_terms import Asked
from pollstead.work.county_folder import Refused, facts_of, parent_digest, version_of
from pollstead.work.paper import void_serials

DAY = dt.date(2028, 11, 7)
EVERY_STEP = tuple(step for step in Step if step is not Step.SWAP)
"""The steps of a change before the doors open."""

SCRIPT = Path(__file__).with_name("changing_county.py")


def _load() -> ModuleType:
    spec = importlib.util.spec_from_file_location("changing_county", SCRIPT)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def tiny() -> Iterator[ModuleType]:
    """The tiny county's module, with sizing made quick."""
    from pollstead.plan.lines import run as lines

    kept = lines.run
    module = _load()
    module.quick_sizing()
    yield module
    lines.run = kept


@pytest.fixture(scope="module")
def made(tiny: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tiny county, planned, approved, issued and printed once."""
    return tiny.make(tmp_path_factory.mktemp("tiny") / "county")


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    """This test's own copy."""
    return Path(shutil.copytree(made, tmp_path / "county"))


@pytest.fixture
def desk(tiny: Any, folder: Path) -> Iterator[Any]:
    """The desk of this test's copy."""
    opened = tiny.open_desk_of(folder)
    yield opened
    opened.close()


def everything(desk: Any) -> list[tuple[str, str, str]]:
    """Kind, subject and day of every event but the certificates, in order of arrival."""
    events = (signed.event for signed in desk.store.events.all())
    return [(e.kind, e.subject, e.day) for e in events if not e.kind.startswith("key.")]


def expected(desk: Any) -> dict[str, tuple[Any, ...]]:
    """The items in force by site."""
    return {one.site: one.items for one in issued_lists(desk.fold(private=True)).lists}


def table(folder: Path) -> str:
    """The devices as they stand in the table."""
    return (folder / "devices.csv").read_text(encoding="utf-8")


def test_looking_writes_nothing(tiny: Any, folder: Path, desk: Any) -> None:
    """The proposal holds everything, and neither a table, an event, a plan nor a sheet is there after it."""
    before = (table(folder), everything(desk), parent_digest(desk.store), len(desk.store.sheets.of()))
    proposal = tiny.look(desk, folder)
    assert (table(folder), everything(desk), parent_digest(desk.store), len(desk.store.sheets.of())) == before
    assert open_intent(desk.store) is None
    assert proposal.consequence.sites == ("T1",)
    kinds = {v.sheet.kind for v in proposal.consequence.void}
    assert {SheetKind.OPENING, SheetKind.CLOSING, SheetKind.EXPECTED} <= kinds


def test_a_swap_is_carried_out_at_its_site_alone(tiny: Any, folder: Path, desk: Any) -> None:
    """One event for each step; the list of the other site, its sheets and its approval chain stay."""
    old, sheets = expected(desk), len(desk.store.sheets.of())
    count = len(everything(desk))
    carried = tiny.do(desk, folder)
    assert carried.steps == EVERY_STEP
    assert everything(desk)[count:] == [
        ("facts.changed", "device/scanner/0001", ""),
        ("plan.approved", "plan", ""),
        ("expected.amended", "site/T1", "2028-11-07"),
        ("packet.voided", "site/T1", ""),
        ("packet.printed", "site/T1", ""),
    ]
    now = expected(desk)
    assert now["T2"] == old["T2"]
    serials = {item.value for item in now["T1"] if item.what == "serial"}
    assert "LM-S-0003" in serials and "LM-S-0001" not in serials
    new = desk.store.sheets.of()[:]
    replaced = {s for sheet in new for s in sheet.replaces.split()}
    assert replaced == void_serials(desk.fold()) and len(new) == sheets + len(replaced)
    assert all(sheet.site == "T1" for sheet in new if sheet.replaces)
    assert (folder / "packets" / "changes" / carried.files[0]).is_file()
    assert "device/scanner/0001,LM-S-0001,scanner,LM-TAG-S1,T1,out of service" in table(folder)


def test_undo_gives_back_lists_and_tables_on_new_sheets(tiny: Any, folder: Path, desk: Any) -> None:
    """The old device is expected again, by a plan of its own; no serial of paper comes twice."""
    old, facts = expected(desk), facts_of(folder)[0]
    tiny.do(desk, folder)
    after_swap = {sheet.serial for sheet in desk.store.sheets.of()}
    number = change_lines(folder, desk.store)[0].number
    undone = tiny.do(desk, folder, Asked(act=Act.UNDO, old=str(number)), at=tiny.NOW + 5000)
    assert expected(desk) == old and facts_of(folder)[0] == facts
    new = [s for s in desk.store.sheets.of() if s.serial not in after_swap]
    assert new and all(s.replaces for s in new)
    # Each sheet of the swap is void again, and nothing that was void became good.
    assert {x for s in new for x in s.replaces.split()} <= after_swap
    assert [line.state for line in change_lines(folder, desk.store)] == ["in the tables", "undone"]
    assert undone.steps == EVERY_STEP


@pytest.mark.parametrize("step", list(Step))
def test_a_kill_after_any_step_is_taken_up_again_and_nothing_doubled(
    tiny: Any, folder: Path, step: Step
) -> None:
    """A process that ends after a step leaves the rest to the next one; all events come once."""
    desk = tiny.open_desk_of(folder)
    count = len(everything(desk))
    tiny.begin(desk, tiny.look(desk, folder), by=tiny.WHO, reason="It does not start", moment=tiny.moment())
    desk.close()
    assert tiny.killed_after(folder, step) == 9
    desk = tiny.open_desk_of(folder)
    intent = open_intent(desk.store)
    assert intent is not None
    assert list(steps_left(intent)) == list(Step)[list(Step).index(step) + 1 :]
    carried = carry_on(folder, desk, tiny.QuickPrinter(), watch=NoWatch())
    assert carried is not None and open_intent(desk.store) is None
    kinds = [kind for kind, _, _ in everything(desk)[count:]]
    assert kinds == ["facts.changed", "plan.approved", "expected.amended", "packet.voided", "packet.printed"]
    serials = [sheet.serial for sheet in desk.store.sheets.of()]
    assert len(serials) == len(set(serials))
    assert carry_on(folder, desk, tiny.QuickPrinter(), watch=NoWatch()) is None
    desk.close()


def test_a_kill_between_event_and_tables_is_finished(
    tiny: Any, folder: Path, desk: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The event of the facts is there, the tables are not: the next start writes them, by no second event."""
    from pollstead.work import fact_writing as writing

    proposal = tiny.look(desk, folder)
    tiny.begin(desk, proposal, by=tiny.WHO, reason="It does not start", moment=tiny.moment())

    def cut(*args: Any, **more: Any) -> Any:
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(writing, "replace_tables", cut)
        with pytest.raises(KeyboardInterrupt):
            carry_on(folder, desk, tiny.QuickPrinter(), watch=NoWatch())
    assert "out of service" not in table(folder)
    with pytest.raises(Refused):
        drop(desk)
    carry_on(folder, desk, tiny.QuickPrinter(), watch=NoWatch())
    assert "out of service" in table(folder)
    assert [k for k, _, _ in everything(desk)].count("facts.changed") == 1


def test_what_was_begun_can_be_dropped_before_anything_is_written(tiny: Any, folder: Path, desk: Any) -> None:
    """One change at a time: a second one is refused until the first is finished or dropped."""
    proposal = tiny.look(desk, folder)
    tiny.begin(desk, proposal, by=tiny.WHO, reason="x", moment=tiny.moment())
    with pytest.raises(Refused, match="not finished"):
        tiny.begin(desk, proposal, by=tiny.WHO, reason="x", moment=tiny.moment())
    assert drop(desk) and not drop(desk)


def test_a_plan_that_nobody_approved_is_not_approved_by_a_change(tiny: Any, tmp_path: Path) -> None:
    """Where the plan that holds has no name under it, the new one has none either."""
    folder = tiny.make(tmp_path / "county", approve=False)
    desk = tiny.open_desk_of(folder)
    assert Step.APPROVAL not in tiny.do(desk, folder).steps
    assert "plan.approved" not in {kind for kind, _, _ in everything(desk)}
    desk.close()


ACTS: tuple[tuple[Asked, Callable[[Path], bool], tuple[str, ...]], ...] = (
    (
        Asked(act=Act.REPLACE_PERSON, old="P002", new="P006"),
        lambda folder: "P001 P006" in (folder / "sites.csv").read_text(),
        ("T1",),
    ),
    (
        Asked(act=Act.REPLACE_PERSON, old="P002", said=(("name", "Nell Quay"), ("phone", "555-0199"))),
        lambda folder: "P011,Nell Quay,deputy lead,T1,555-0199" in (folder / "people.csv").read_text(),
        ("T1",),
    ),
    (
        Asked(act=Act.MOVE_SITE, old="T2", said=(("address", "2 New Road"), ("opens", "08:00"))),
        lambda folder: "T2,2028-11-07,08:00,20:00" in (folder / "hours.csv").read_text(),
        ("T2",),
    ),
    (
        Asked(
            act=Act.ADD_STOCK,
            said=(
                ("seal_kind", "pull-tight seal"),
                ("series", "LM-B"),
                ("first", "0090001"),
                ("last", "0090100"),
                ("people", "P001 P002"),
                ("counted", "100"),
                ("ordered", "2028-06-05"),
            ),
        ),
        lambda folder: (
            "LM-B,0090001,0090100" in (folder / "seal_ranges.csv").read_text()
            and "LM-B,0090001,0090100,,100,2028-06-05,2028-" in (folder / "seal_receipts.csv").read_text()
            and ",P001 P002," in (folder / "seal_receipts.csv").read_text()
        ),
        (),
    ),
)


@pytest.mark.parametrize(("asked", "holds", "sites"), ACTS, ids=lambda value: getattr(value, "act", ""))
def test_each_act_changes_its_own_rows_and_sites(
    tiny: Any, folder: Path, desk: Any, asked: Asked, holds: Callable[[Path], bool], sites: tuple[str, ...]
) -> None:
    """Replace a person by one of the list or a new one, move a site, add stock: the tables say so after."""
    proposal = tiny.look(desk, folder, asked)
    assert proposal.consequence.sites == sites
    tiny.do(desk, folder, asked)
    assert holds(folder)


def test_reseal_asks_for_two_and_keeps_the_old_number_as_void(tiny: Any, folder: Path, desk: Any) -> None:
    """The list expects the new number, the old one is void with its reason; a used number is refused."""
    closure = "closure/scanner/0001/lid"
    asked = Asked(act=Act.RESEAL, old=closure, new="0048300", said=(("void", "damaged"),))
    with pytest.raises(Refused, match="read the new seal again"):
        tiny.look(desk, folder, Asked(act=Act.RESEAL, old=closure, new="0048021"))
    proposal = tiny.look(desk, folder, asked)
    if proposal.drafted.second_person:
        with pytest.raises(Refused, match="Two people"):
            tiny.begin(desk, proposal, by=tiny.WHO, reason="cut", moment=tiny.moment())
    tiny.do(desk, folder, asked, second="P001")
    values = {item.value for item in expected(desk)["T1"] if item.subject == closure}
    assert "0048300" in values
    assert "0048011,damaged" in (folder / "seal_voids.csv").read_text()


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("device/scanner/0001", "device/scanner/0009", "names 0 devices"),
        ("device/scanner/0003", "device/scanner/0002", "stands at no site"),
        ("LM-S-0001", "LM-S-0001", "same kind"),
    ],
)
def test_a_swap_that_cannot_be_is_refused_in_words(
    tiny: Any, folder: Path, desk: Any, old: str, new: str, says: str
) -> None:
    """What was expected, what was found and what to do stand in the message; nothing is written."""
    with pytest.raises(Refused, match=says):
        tiny.look(desk, folder, Asked(act=Act.SWAP_DEVICE, old=old, new=new))


def test_a_swap_at_noon_keeps_both_devices(tiny: Any, folder: Path, desk: Any) -> None:
    """What was begun stays good; the new device has sheets of its own; both counters enter the balance."""
    said = (("at", "12:05"), ("counter", "41"), ("ballots", "held_apart"))
    noon = tiny.NOW + 50_400_000  # 12:46 on election day
    asked = Asked(act=Act.SWAP_DEVICE, old="device/scanner/0001", new="device/scanner/0003", said=said)
    old = expected(desk)["T1"]
    carried = tiny.do(desk, folder, asked, at=noon)
    assert Step.SWAP in carried.steps
    now = expected(desk)["T1"]
    assert set(old) < set(now)
    assert {i.value for i in now if i.what == "serial"} >= {"LM-S-0001", "LM-S-0003"}
    kinds = [kind for kind, _, _ in everything(desk)]
    assert kinds.count("device.swapped") == 1 and kinds.count("count.read") == 1
    void = {s.kind for s in desk.store.sheets.of() if s.serial in void_serials(desk.fold())}
    assert not void & {SheetKind.OPENING.value, SheetKind.CLOSING.value}
    beside = [s for s in desk.store.sheets.of() if s.plan_digest == parent_digest(desk.store)]
    assert {SheetKind.OPENING.value, SheetKind.CLOSING.value} <= {s.kind for s in beside}
    folded = desk.fold(private=True)
    plan = version_of(desk.store, parent_digest(desk.store))
    report = reconcile_day(facts_of(folder)[0], plan, issued_lists(folded), folded, DAY).site("T1")
    closing = {r.key: r.value for r in report.readings if "public_counter_close" in r.key}
    assert closing == {"public_counter_close@device/scanner/0001": 41}
    assert report.balance is not None
    keys = {key for equation in report.balance.equations for _, key in equation.terms}
    assert {f"public_counter_close@device/scanner/000{n}" for n in (1, 3)} <= keys
    assert "ballots_held_apart" in keys
    # What was printed is what the record's swap gives, and not what the plan gives alone.
    swaps = swaps_of(observations_of(folded))
    assert [(s.old, s.new, s.at_min) for s in swaps] == [("device/scanner/0001", "device/scanner/0003", 725)]
    facts, digest = facts_of(folder)[0], parent_digest(desk.store)
    for kind in (SheetKind.CLOSING, SheetKind.BALANCE):
        printed = {s.content for s in beside if s.kind == kind.value}
        both, alone = (
            {
                s.content
                for s in tiny.QuickPrinter().planned(facts, plan, digest, ("T1",), "en-US", given)
                if s.kind is kind
            }
            for given in (swaps, ())
        )
        assert printed <= both and not printed <= alone
    told = next(n for n in report.notices if n.rule == "device-swapped")
    assert "12:05 with public counter 41" in told.text.english()
    assert told.remedy is not None and "held apart" in told.remedy.english()
