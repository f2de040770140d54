"""The power goes at each write of an act: nothing acknowledged is lost, half written, or there twice.

A child process does the act and is ended by kill -9 at its first write, at its second, and so on, until it
is through. A write is a statement that changes the store, a commit, a flush to the disk, or a file that takes
another's place; the last one is when all is written and nobody has been told yet.
"""

from __future__ import annotations

import csv
import datetime as dt
import importlib.util
import os
import random
import shutil
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import sqlalchemy as sa
from tests.once import copied
from tests.web.conftest import App, issue_all

from pollstead.cli.change import carry_on_folder
from pollstead.intake import kept_tables
from pollstead.plan.terms.part import NoWatch
from pollstead.show.web.capabilities import Role
from pollstead.show.web.day import days_now, issued
from pollstead.show.web.pages.site import find_site
from pollstead.show.web.readings import Asked, opening_lines
from pollstead.store.exchange import check_store
from pollstead.store.opening import open_store
from pollstead.work.changing_kept import open_intent

pytestmark = [
    pytest.mark.full,
    pytest.mark.skipif(os.name != "posix", reason="there is no kill -9 on Windows"),
]

DAY = "2028-11-07"
NIGHT_MS = 1_857_790_000_000
MOST = 60
CHANGING = ("INSERT", "UPDATE", "DELETE")
TABLE = {"table": "1", "day": DAY, "second": "P012"}


def ended_at(step: int, act: Callable[[], object]) -> bool:
    """Do the act in a child that is killed at its write number `step`; False where it came through alive."""
    child = os.fork()
    if child:
        _, status = os.waitpid(child, 0)
        if os.WIFSIGNALED(status):
            assert os.WTERMSIG(status) == signal.SIGKILL
            return True
        assert os.WEXITSTATUS(status) == 0, "the act itself failed in the child"
        return False
    code = 1
    try:
        strike = _armed(step)
        act()
        strike()
        code = 0
    finally:
        os._exit(code)


def _armed(step: int) -> Callable[..., None]:
    """Count this process's writes from here on; the one of number `step` is its last."""
    left = [step]

    def strike(*_: Any, **__: Any) -> None:
        left[0] -= 1
        if left[0] == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    def statement(_c: Any, _cursor: Any, text: str, *_: Any) -> None:
        if text.lstrip().upper().startswith(CHANGING):
            strike()

    def commit(connection: Any) -> None:
        if connection.get_execution_options().get("pollstead_write"):
            strike()

    sa.event.listen(sa.Engine, "before_cursor_execute", statement)
    sa.event.listen(sa.Engine, "commit", commit)
    for name in ("replace", "fsync", "rename"):
        real = getattr(os, name)

        def struck(*given: Any, _real: Any = real, **more: Any) -> Any:
            strike()
            return _real(*given, **more)

        setattr(os, name, struck)
    return strike


@pytest.fixture(scope="module")
def evening(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small county on election night with a named cart and issued lists; each step takes a copy."""
    folder = copied(planned, tmp_path_factory.mktemp("evening") / "county")
    (folder / "carts.csv").write_text("id,tag,site\ncart-S01-S,CART-1,S01\n", encoding="utf-8")
    app = App(folder)
    issue_all(app.folder)
    app.folder.close()
    return folder


def posted(
    folder: Path, role: Role, person: str, address: str, form: dict[str, str], utc_ms: int = NIGHT_MS
) -> Any:
    """The answer to one form, by an app of its own."""
    app = App(folder)
    app.folder.clock = lambda: utc_ms
    answer = app.client(role, person).post(address, data=form)
    app.folder.close()
    return answer


def kept(folder: Path) -> tuple[str, ...]:
    """The ids of all events, after looking that the store is whole."""
    with open_store(folder) as store:
        with store.database.reading() as connection:
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar() == "ok"
        report = check_store(store)
        assert report.checks and report.troubles == ()
        events = store.events.all()
        assert {s.event.private for s in events if s.event.private} == set(store.sides.all())
        return tuple(signed.id for signed in events)


ACTS = {
    "packing": (
        Role.WAREHOUSE,
        "person/P011",
        "/scan/pack",
        {"do": "scan", "into": "cart-S01-S", "code": "LM-S-0001"},
        "thing.packed",
        303,
    ),
    "receiving": (
        Role.HELPER,
        "person/P010",
        "/receiving",
        {**TABLE, "do": "scan", "code": "LM-M-S001A", "giver": "P001", "seals": "intact"},
        "thing.received",
        200,
    ),
    "fetching": (
        Role.CLERK,
        "person/P012",
        "/not-back",
        {
            "thing": "keys/S02/1107",
            "day": DAY,
            "do": "fetch",
            "first": "P012",
            "second": "P011",
            "by": "24:20",
        },
        "retrieval.sent",
        303,
    ),
    "the minute of closing": (
        Role.SITE_LEAD,
        "person/P001",
        "/site/S01/closing",
        {"do": "minute", "day": DAY, "at": "24:40"},
        "site.closed",
        303,
    ),
}


@pytest.mark.parametrize("name", ACTS)
def test_an_act_that_is_killed_at_any_write_is_done_or_not_done(
    evening: Path, tmp_path: Path, name: str
) -> None:
    """At every write: all events of before are there; of the act all or nothing; done again, it is there."""
    role, person, address, form, kind, status = ACTS[name]
    before = kept(Path(shutil.copytree(evening, tmp_path / "before")))
    steps = 0
    for step in range(1, MOST):
        folder = Path(shutil.copytree(evening, tmp_path / f"at-{step}"))

        def act(there: Path = folder) -> None:
            assert posted(there, role, person, address, form).status_code == status

        if not ended_at(step, act):
            break
        steps = step
        after = kept(folder)
        assert after[: len(before)] == before, "what was acknowledged before is lost"
        assert len(after) - len(before) in (0, 1)
        # People look, see that it is not there, and do it again; one that was kept is not done twice.
        if len(after) == len(before):
            assert posted(folder, role, person, address, form).status_code == status
        with open_store(folder) as store:
            assert len(store.events.of_kinds(kind)) == 1
        kept(folder)
        shutil.rmtree(folder)
    assert 3 <= steps < MOST - 1, "a write, its commit, and the moment before the answer at the least"


def test_readings_that_are_killed_in_the_middle_are_asked_again_from_there(
    evening: Path, tmp_path: Path, fault_random: random.Random
) -> None:
    """A form of three lines: what was written stands whole and once; what was not is still to be typed."""
    folder = Path(shutil.copytree(evening, tmp_path / "county"))
    before = len(kept(folder))
    form = _form(folder)

    def act() -> None:
        assert posted(folder, Role.SITE_LEAD, "person/P001", "/site/S01/opening", form).status_code == 303

    assert ended_at(fault_random.randrange(2, 9), act)
    written = len(kept(folder)) - before
    assert 0 <= written <= 3
    again = _form(folder)
    open_lines = {name.rpartition("-")[0] for name in again if name.endswith("-number")}
    assert len(open_lines) == 3 - written or written == 0
    if open_lines:
        answer = posted(folder, Role.SITE_LEAD, "person/P001", "/site/S01/opening", again)
        assert answer.status_code == 303
    with open_store(folder) as store:
        closures = [signed.event.subject for signed in store.events.of_kinds("seen.seal")]
    assert len(closures) == len(set(closures)) == 3


SCANNER = "device/scanner/0001"
SEALS = {"do": "seals", "device": SCANNER, "seal-1": "0048302", "seal-2": "0048301"}
MONDAY_MS = 1_857_124_800_000
LOADED = {
    "drive": "2028-11-06/V1",
    "first": "P010",
    "second": "P012",
    "mode": "load",
    "into": "",
    "do": "scan",
}
STEPS_DRAWN = int(os.environ.get("POLLSTEAD_KILL_STEPS", "2"))
"""Writes at which an act of many writes is killed in one run; a sweep over all sets a large number."""


def drawn_steps(chosen: random.Random, most: int) -> list[int]:
    """Numbers of writes, the first one always."""
    return sorted({1, *chosen.sample(range(2, most), min(STEPS_DRAWN, most - 2))})


def numbers_of(folder: Path) -> dict[str, str]:
    """The numbers that the table of closures has for scanner 1, by closure."""
    with (folder / "closure_seals.csv").open(encoding="utf-8", newline="") as stream:
        return {row["closure"]: row["number"] for row in csv.DictReader(stream) if row["device"] == SCANNER}


@pytest.fixture(scope="module")
def read_once(planned: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Scanner 1 has no number in the table; one person read both of its seals, and that was acknowledged."""
    folder = copied(planned, tmp_path_factory.mktemp("read-once") / "county")
    table = folder / "closure_seals.csv"
    lines = table.read_text(encoding="utf-8").splitlines(keepends=True)
    table.write_text("".join(x for x in lines if not x.startswith(SCANNER + ",")), encoding="utf-8")
    assert posted(folder, Role.WAREHOUSE, "person/P011", "/tests/S01", SEALS).status_code == 303
    return folder


def test_sealing_that_is_killed_at_some_write_goes_on_from_there(
    read_once: Path, tmp_path: Path, fault_seed: int
) -> None:
    """The second reading and the table: nothing acknowledged is lost, both seals stand once and whole."""
    before, killed = kept(Path(shutil.copytree(read_once, tmp_path / "before"))), 0
    for step in drawn_steps(random.Random(f"{fault_seed}:sealing"), 33):
        folder = Path(shutil.copytree(read_once, tmp_path / f"at-{step}"))

        def act(there: Path = folder) -> None:
            assert posted(there, Role.WAREHOUSE, "person/P012", "/tests/S01", SEALS).status_code == 200

        killed += ended_at(step, act)
        assert kept(folder)[: len(before)] == before, "what was acknowledged before is lost"
        assert len(numbers_of(folder)) in (0, 2), "a table is half written"
        # Every other time the app starts again, as after a real stop; else whoever was entering goes on.
        if step % 2:
            app = App(folder)
            app.folder.end_half_done()
            app.folder.close()
        again = posted(folder, Role.WAREHOUSE, "person/P012", "/tests/S01", SEALS)
        assert again.status_code == 200 or "Nothing was typed yet" in again.text
        assert numbers_of(folder) == {"lid": "0048301", "memory-door": "0048302"}
        with open_store(folder) as store:
            read = [
                (s.event.subject, s.event.people[0].person) for s in store.events.of_kinds("closure.sealed")
            ]
            assert len(read) == len(set(read)) == 4
            resealed = [
                s for s in store.events.of_kinds("facts.changed") if s.event.body.get("act") == "reseal"
            ]
            assert len(resealed) == 1
        kept(folder)
    assert killed >= 1


def pack_and_send(folder: Path) -> None:
    """A device goes into its cart, then the cart onto its vehicle, as two scans."""
    packed = {"do": "scan", "into": "cart-S01-S", "code": "LM-S-0001"}
    assert posted(folder, Role.WAREHOUSE, "person/P011", "/scan/pack", packed, MONDAY_MS).status_code == 303
    sent = {**LOADED, "code": "cart-S01-S"}
    answer = posted(folder, Role.WAREHOUSE, "person/P011", "/scan/load", sent, MONDAY_MS + 1_000)
    assert answer.status_code == 303


def test_a_cart_that_is_packed_and_sent_is_not_lost_or_sent_twice(
    evening: Path, tmp_path: Path, fault_seed: int
) -> None:
    """Killed at some write of the two scans, then done again: packed once, sent once, with its people."""
    before, killed = kept(Path(shutil.copytree(evening, tmp_path / "before"))), 0
    for step in drawn_steps(random.Random(f"{fault_seed}:sending"), 9):
        folder = Path(shutil.copytree(evening, tmp_path / f"at-{step}"))

        def act(there: Path = folder) -> None:
            pack_and_send(there)

        killed += ended_at(step, act)
        after = kept(folder)
        assert after[: len(before)] == before, "what was acknowledged before is lost"
        pack_and_send(folder)
        with open_store(folder) as store:
            assert len(store.events.of_kinds("thing.packed")) == 1
            [sent] = store.events.of_kinds("thing.sent")
            assert {p.part.value for p in sent.event.people} >= {"author", "giver", "receiver"}
            assert sent.event.body["to_place"] == "site/S01"
        assert kept(folder)[: len(after)] == after
    assert killed >= 1


_CHOSEN: dict[Path, tuple[str, ...]] = {}


def _form(folder: Path) -> dict[str, str]:
    """The opening form with the first three seals typed, those that are still open to this person."""
    app = App(folder)
    days = app.folder
    date = dt.date.fromisoformat(DAY)
    day = days_now(days).site("S01", date)
    assert day is not None
    seals = [x for x in opening_lines(day, find_site(days, "S01").election) if x.ask is Asked.SEAL]
    chosen = _CHOSEN.setdefault(folder, tuple(x.subject for x in seals[:3]))
    form = {"do": "readings", "day": DAY, "partial": "yes", "list": issued(days).event_of("S01", date)}
    for line in seals:
        if line.subject in chosen and line.open_for("person/P001"):
            form |= {f"{line.id}-number": "0040000", f"{line.id}-state": "intact"}
    app.folder.close()
    return form


CHANGING_COUNTY = Path(__file__).parents[1] / "work" / "changing_county.py"
WHOLE = ["facts.changed", "plan.approved", "expected.amended", "packet.voided", "packet.printed"]


@pytest.fixture(scope="module")
def tiny() -> Iterator[ModuleType]:
    """The tiny county's module, with sizing made quick."""
    from pollstead.plan.lines import run as lines

    real = lines.run
    spec = importlib.util.spec_from_file_location("changing_county_of_faults", CHANGING_COUNTY)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    module.quick_sizing()
    yield module
    lines.run = real


def test_a_late_change_that_is_killed_at_some_write_is_ended_once_by_the_next_start(
    tiny: Any, tmp_path: Path, fault_random: random.Random, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Six writes drawn among all of a swap: the next start ends it, each of its five events is there once."""
    monkeypatch.setattr("pollstead.show.packet.changed_printer.PacketPrinter", tiny.QuickPrinter)
    base = tiny.make(tmp_path / "base")
    desk = tiny.open_desk_of(base)
    count = desk.store.events.count()
    tiny.begin(desk, tiny.look(desk, base), by=tiny.WHO, reason="It does not start", moment=tiny.moment())
    desk.close()
    killed = 0
    for step in fault_random.sample(range(1, MOST), 6):
        folder = Path(shutil.copytree(base, tmp_path / f"at-{step}"))

        def act(there: Path = folder) -> None:
            carry_on_folder(there, watch=NoWatch())

        killed += ended_at(step, act)
        carry_on_folder(folder, watch=NoWatch())
        desk = tiny.open_desk_of(folder)
        assert open_intent(desk.store) is None
        kinds = [signed.event.kind for signed in desk.store.events.all()]
        assert [kind for kind in kinds[count:] if not kind.startswith("key.")] == WHOLE
        serials = [sheet.serial for sheet in desk.store.sheets.of()]
        assert len(serials) == len(set(serials))
        desk.close()
        kept(folder)
    assert killed >= 2


def test_a_late_change_that_stops_between_two_tables_is_ended_by_the_next_start(
    tiny: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Some tables are old, some new: no plan is made of them; the next start puts them back and goes on."""
    monkeypatch.setattr("pollstead.show.packet.changed_printer.PacketPrinter", tiny.QuickPrinter)
    folder = tiny.make(tmp_path / "county")
    desk = tiny.open_desk_of(folder)
    count = desk.store.events.count()
    tiny.begin(desk, tiny.look(desk, folder), by=tiny.WHO, reason="It does not start", moment=tiny.moment())
    desk.close()

    def stop(*_: Any) -> None:
        os.kill(os.getpid(), signal.SIGKILL)

    def act() -> None:
        kept_tables.sync_folder = stop  # type: ignore[assignment]
        carry_on_folder(folder, watch=NoWatch())

    assert ended_at(10_000, act)
    assert kept_tables.unfinished(folder) is not None
    carry_on_folder(folder, watch=NoWatch())
    assert kept_tables.unfinished(folder) is None
    with open_store(folder) as store:
        kinds = [signed.event.kind for signed in store.events.all()][count:]
        assert [kind for kind in kinds if not kind.startswith("key.")] == WHOLE
    assert "out of service" in (folder / "devices.csv").read_text(encoding="utf-8")
