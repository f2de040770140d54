"""The commands plan, why, diff and rebuild on a real folder, with the real simulation."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import msgspec
import pytest

from pollstead.cli import main as command_line
from pollstead.cli.county import decisions_of
from pollstead.cli.plan import plan_folder
from pollstead.election.canonical import sha256_hex
from pollstead.plan.terms.part import Cancelled, Effort, NoWatch
from pollstead.plan.terms.version import PlanVersion
from pollstead.record.event import Means, Part, Person
from pollstead.record.kinds.offices import FixedPrivate, ValueFixed
from pollstead.record.write import Moment
from pollstead.store.desk import begin_desk
from pollstead.store.opening import open_store

ROOT = Path(__file__).resolve().parents[2]
TYPES = ROOT / "src" / "pollstead" / "intake" / "data" / "station_types_d.toml"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A county folder of one small precinct, kind D: planned in a moment."""
    place = tmp_path / "county"
    place.mkdir()
    (place / "station_types.toml").write_text(TYPES.read_text(encoding="utf-8"), encoding="utf-8")
    (place / "county.toml").write_text(
        'county = "Larkmoor"\nname = "Invented"\nelection_day = 2028-11-07\nzone = "America/Chicago"\n',
        encoding="utf-8",
    )
    (place / "sites.csv").write_text("id,name,expected_voters\nP1,Small Hall,120\n", encoding="utf-8")
    return place


def run(*arguments: str | Path) -> int:
    """Run a command in this process and give its exit code."""
    return command_line.run([str(a) for a in arguments])


def said(capsys: pytest.CaptureFixture[str], *arguments: str | Path, code: int = 0) -> str:
    """What a command prints, standard output and error together."""
    capsys.readouterr()
    assert run(*arguments) == code
    found = capsys.readouterr()
    return found.out + found.err


def told(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> Any:
    """The JSON that a command prints."""
    capsys.readouterr()
    assert run(*arguments, "--json") == 0
    return json.loads(capsys.readouterr().out)


@pytest.mark.full
def test_a_folder_is_planned_explained_compared_and_rebuilt(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The way of a first plan: plan, why, a change of the facts, plan again, diff, rebuild."""
    words = said(capsys, "plan", folder)
    assert "Small Hall" in words and "Plan version 1" in words and "history.csv" in words
    first = told(capsys, "plan", folder)
    assert (first["format"], first["number"], first["parent"]) == ("pollstead plan 1", 1, "")
    [site] = first["sites"]
    assert site["days"][0]["p10"] < site["days"][0]["p90"] and site["waits"]["days_used"] > 0

    reasons = told(capsys, "why", folder, "P1")["reasons"]
    assert {"voters", "check_in", "mark"} <= {r["field"] for r in reasons}
    assert "Load in the busiest hour" in said(capsys, "why", folder, "site/P1", "check_in")
    assert "stations of type" in said(capsys, "why", folder, "P1", "packing")

    (folder / "sites.csv").write_text("id,name,expected_voters\nP1,Small Hall,700\n", encoding="utf-8")
    second = told(capsys, "plan", folder)
    assert (second["number"], second["parent"]) == (2, first["digest"])
    changes = told(capsys, "diff", folder, "1", second["digest"][:12])["changes"]
    assert {"voters", "stations"} <= {c["table"] for c in changes}
    assert said(capsys, "diff", folder, "2", "2").strip() == "Nothing differs."

    results = told(capsys, "rebuild", folder)["versions"]
    assert [r["result"] for r in results] == ["same", "same"]


def test_unchanged_facts_make_no_second_version(folder: Path) -> None:
    """Planning again with nothing changed answers with the version that is there."""
    assert plan_folder(folder, watch=NoWatch()) == plan_folder(folder, watch=NoWatch())
    with open_store(folder) as store:
        [line] = store.plans.list()
        kept = store.plans.load(line.digest)
        assert sha256_hex(kept) == line.digest
        version = msgspec.json.decode(kept, type=PlanVersion)
        for digest in (version.snapshot, version.decisions, version.told):
            assert sha256_hex(store.snapshots.load(digest)) == digest


def test_a_changed_version_does_not_rebuild(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A kept version whose inputs do not give it is named, and the command ends with 1."""
    import sqlalchemy as sa

    from pollstead.store.schema import plan_versions

    digest = plan_folder(folder, watch=NoWatch())
    with open_store(folder) as store:
        kept = msgspec.json.decode(store.plans.load(digest), type=PlanVersion)
        site = msgspec.structs.replace(kept.sites[0], name="Another Hall")
        changed = msgspec.json.encode(msgspec.structs.replace(kept, sites=(site,)))
        with store.database.engine.begin() as connection:
            connection.execute(sa.text("DROP TRIGGER IF EXISTS plan_versions_no_update"))
            connection.execute(
                sa.update(plan_versions)
                .where(plan_versions.c.digest == digest)
                .values(bytes=changed, digest=sha256_hex(changed))
            )
    assert "different" in said(capsys, "rebuild", folder, code=1)


def test_a_decision_in_the_record_is_honoured(folder: Path) -> None:
    """A number fixed by an event stands in the next version with the person's reason."""
    plan_folder(folder, watch=NoWatch())
    _fix(folder, 3)
    digest = plan_folder(folder, watch=NoWatch())
    with open_store(folder) as store:
        version = msgspec.json.decode(store.plans.load(digest), type=PlanVersion)
        decisions, notices = decisions_of(store)
    count = next(c for c in version.sites[0].counts if c.step == "check-in")
    assert (count.count, count.fixed, count.reason) == (3, True, "Two doors")
    assert [f.value for f in decisions.fixed] == ["3"] and notices == ()


def _fix(folder: Path, value: int) -> None:
    """Fix the number of check-in stations by an event of the office."""
    import tomllib

    kinds = tomllib.loads((folder / "station_types.toml").read_text(encoding="utf-8"))
    check_in = next(t["id"] for t in kinds["station_type"] if t["step"] == "check-in")
    author = (Person(person="person/P1", means=Means.NAME_ONLY, part=Part.AUTHOR),)
    moment = Moment(utc_ms=1_857_000_000_000, offset_min=-360, uncertainty_ms=1000)
    desk = begin_desk(
        folder, county="Larkmoor", election="Invented", practice=False, people=author, moment=moment
    )
    try:
        desk.recorder.record(
            ValueFixed(table="stations", row=f"P1/{check_in}", field="count", value=value),
            subject="site/P1",
            people=author,
            moment=moment,
            private=FixedPrivate(reason="Two doors"),
        )
    finally:
        desk.close()


class _StopAtLines:
    """A watch that asks to stop when sizing begins."""

    def step(self, part: str, done: int, total: int) -> None:
        """Raise at the lines."""
        if part == "lines":
            raise Cancelled(part)


def test_a_cancelled_plan_keeps_nothing(folder: Path) -> None:
    """Whoever cancels a plan finds no version and no half of one."""
    with pytest.raises(Cancelled):
        plan_folder(folder, watch=_StopAtLines())
    with open_store(folder) as store:
        assert store.plans.list() == () and store.snapshots.list() == ()


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        (("plan", "{none}"), 1, "pollstead new FOLDER"),
        (("why", "{none}", "site/S1"), 1, "pollstead new FOLDER"),
        (("why", "{folder}", "site/P1"), 1, "pollstead plan"),
        (("diff", "{folder}", "1", "2"), 1, "pollstead plan"),
        (("rebuild", "{folder}"), 1, "pollstead plan"),
        (("plan",), 2, "FOLDER"),
        (("plan", "{folder}", "--effort", "endless"), 2, "effort"),
        (("plan", "{folder}", "--seed", "-1"), 2, "seed"),
        (("plan", "{folder}", "--workers", "-1"), 2, "Workers"),
        (("plan", "{folder}", "--nonsense"), 2, "nonsense"),
        (("nonsense",), 2, "nonsense"),
        (("plan", "{folder}", "--language", "xx"), 2, "en-US"),
    ],
)
def test_what_cannot_be_done_says_what_to_do(
    arguments: tuple[str, ...],
    code: int,
    words: str,
    folder: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Exit 1 for what could not be done, 2 for usage, each with words a person can act on."""
    filled = [a.format(none=tmp_path / "nowhere", folder=folder) for a in arguments]
    assert words in said(capsys, *filled, code=code)
    assert not (folder / "pollstead.db").exists()


def test_facts_that_cannot_be_read_give_no_plan(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without sites there is no plan, and the sentence names the fault and the command that lists all."""
    (folder / "sites.csv").unlink()
    assert "pollstead check" in said(capsys, "plan", folder, code=1)


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("sites.csv", "P1,", "P1/a,"),
        ("sites.csv", "P1,", "P 1,"),
        ("station_types.toml", 'id = "precinct-booth"', 'id = "precinct booth"'),
        ("station_types.toml", 'id = "lid"', 'id = "the/lid"'),
    ],
)
def test_an_id_that_cannot_stand_in_another_is_a_fault_and_no_traceback(
    file: str, old: str, new: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A slash or blank in the id of a site, station type or closure is said where it stands."""
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new), encoding="utf-8")
    assert file in said(capsys, "check", folder, code=1)
    said(capsys, "plan", folder, code=1)


def test_a_contradiction_leaves_its_site_out_and_ends_with_one(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The other sites are planned and kept; the code says that something asked for could not be done."""
    (folder / "sites.csv").write_text(
        "id,name,expected_voters\nP1,Small Hall,120\nP2,Old Mill,90\nP2,New Mill,80\n", encoding="utf-8"
    )
    words = said(capsys, "plan", folder, code=1)
    assert "Small Hall" in words and "fault" in words
    with open_store(folder) as store:
        [line] = store.plans.list()
        version = msgspec.json.decode(store.plans.load(line.digest), type=PlanVersion)
    assert [site.site for site in version.sites] == ["P1"]


@pytest.mark.parametrize("name", ["99", "abc", "0", "zzzzzzzz"])
def test_an_unknown_version_is_refused_with_what_there_is(
    name: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A number or digest that names no version says which numbers there are."""
    plan_folder(folder, watch=NoWatch(), effort=Effort.QUICK)
    assert "from 1 to 1" in said(capsys, "why", folder, "P1", "--version", name, code=1)


def test_another_language_translates_what_the_command_says(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The pseudo-language leaves no English sentence of ours in the table; data stays as it is."""
    words = said(capsys, "plan", folder, "--language", "en-XA")
    assert "Small Hall" in words and "Plan version" not in words
    assert "Plan version" in said(capsys, "plan", folder)
