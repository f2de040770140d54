"""run.py: what it takes for installed, and what it says when something is missing."""

from __future__ import annotations

import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> ModuleType:
    """run.py as a module, looking at an empty checkout of its own."""
    spec = importlib.util.spec_from_file_location("pollstead_run", ROOT / "run.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    for name in ("pyproject.toml", "requirements.lock", "requirements-dev.lock", "requirements-uv.lock"):
        (tmp_path / name).write_text(name, encoding="utf-8")
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(module, "TOOLS", tmp_path / ".tools")
    monkeypatch.setattr(module, "BIN", tmp_path / ".venv" / "bin")
    monkeypatch.setattr(module, "PYTHON", tmp_path / ".venv" / "bin" / "python")
    monkeypatch.setattr(module, "STAMP", tmp_path / ".venv" / "stamp.json")
    monkeypatch.setattr(module, "RUNTIME_LOCK", tmp_path / "requirements.lock")
    monkeypatch.setattr(module, "DEV_LOCK", tmp_path / "requirements-dev.lock")
    monkeypatch.setattr(module, "UV_LOCK", tmp_path / "requirements-uv.lock")
    return module


@pytest.fixture
def installs(run: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The installer commands that run.py would start, in order; none is started."""
    started: list[list[str]] = []

    def note(command: list[str], doing: str, remedy: str) -> None:
        started.append(command)
        if command[1] == "venv":
            run.PYTHON.parent.mkdir(parents=True, exist_ok=True)
            run.PYTHON.touch()

    monkeypatch.setattr(run, "run_quietly", note)
    monkeypatch.setattr(run, "find_uv", lambda: "uv")
    return started


def test_a_wish_for_no_compiled_files_in_the_tree_slows_no_process(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Compiled modules go to a folder of their own: a clean tree, and the next process is quick."""
    monkeypatch.delenv("PYTHONPYCACHEPREFIX", raising=False)
    monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
    said = "import sys; print(sys.dont_write_bytecode, sys.pycache_prefix)"
    made = subprocess.check_output([sys.executable, "-c", said], env=run.child_environment(), text=True)
    assert made.split() == ["False", str(run.TOOLS / "bytecode")]
    monkeypatch.delenv("PYTHONDONTWRITEBYTECODE")
    assert "PYTHONPYCACHEPREFIX" not in run.child_environment()


def test_a_second_run_installs_nothing(run: ModuleType, installs: list[list[str]]) -> None:
    """What an unchanged lock named is not installed again."""
    run.make_environment(dev=False)
    assert [command[1] for command in installs] == ["venv", "pip", "pip"]
    installs.clear()
    run.make_environment(dev=False)
    assert installs == []


@pytest.mark.parametrize("changed", ["requirements.lock", "pyproject.toml"])
def test_a_changed_lock_or_project_is_installed(
    run: ModuleType, installs: list[list[str]], changed: str
) -> None:
    """A change of the lock or of the project's own settings is installed, into the .venv that is there."""
    run.make_environment(dev=False)
    installs.clear()
    (run.ROOT / changed).write_text("changed", encoding="utf-8")
    run.make_environment(dev=False)
    assert [command[1] for command in installs] == ["pip", "pip"]


def test_development_set_serves_runtime_too(run: ModuleType, installs: list[list[str]]) -> None:
    """After a test run the demo starts without another installation, and not the other way round."""
    run.make_environment(dev=False)
    installs.clear()
    run.make_environment(dev=True)
    assert any("requirements-dev.lock" in part for command in installs for part in command)
    installs.clear()
    run.make_environment(dev=False)
    run.make_environment(dev=True)
    assert installs == []


def test_an_environment_made_by_hand_is_adopted(run: ModuleType, installs: list[list[str]]) -> None:
    """A .venv that run.py did not make is completed and never deleted."""
    run.PYTHON.parent.mkdir(parents=True)
    run.PYTHON.touch()
    run.make_environment(dev=False)
    assert "venv" not in [command[1] for command in installs]


def test_a_moved_checkout_makes_its_environment_anew(run: ModuleType, installs: list[list[str]]) -> None:
    """Programs in .venv hold the old folder's path, so a moved checkout is noticed."""
    run.make_environment(dev=False)
    stamp = json.loads(run.STAMP.read_text(encoding="utf-8"))
    run.STAMP.write_text(json.dumps(stamp | {"folder": "elsewhere"}), encoding="utf-8")
    installs.clear()
    run.make_environment(dev=False)
    assert installs[0][1] == "venv"


def test_each_installation_demands_hashes(run: ModuleType, installs: list[list[str]]) -> None:
    """Packages come by hash, and the project itself brings none along."""
    run.make_environment(dev=True)
    packages, itself = installs[1:]
    assert "--require-hashes" in packages
    assert {"--no-deps", "--no-build-isolation", "--editable"} <= set(itself)


def test_a_folder_of_wheels_takes_the_place_of_the_index(
    run: ModuleType, installs: list[list[str]], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """With POLLSTEAD_WHEELS no index is asked at all."""
    monkeypatch.setenv("POLLSTEAD_WHEELS", str(tmp_path))
    run.make_environment(dev=False)
    for command in installs[1:]:
        assert command[command.index("--no-index") + 1 :][:2] == ["--find-links", str(tmp_path.resolve())]


def test_a_missing_folder_of_wheels_is_named(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """A mistyped POLLSTEAD_WHEELS stops with the folder and what to do, before anything is installed."""
    monkeypatch.setenv("POLLSTEAD_WHEELS", str(tmp_path / "nowhere"))
    with pytest.raises(run.Stop, match=r"nowhere.*not a folder"):
        run.source_arguments()


def test_a_folder_of_wheels_that_lacks_one_is_the_remedy(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """What to do next names the folder where one is used, and the index where none is."""
    monkeypatch.setenv("POLLSTEAD_WHEELS", str(tmp_path))
    assert str(tmp_path.resolve()) in run.source_remedy()
    monkeypatch.delenv("POLLSTEAD_WHEELS")
    assert "UV_DEFAULT_INDEX" in run.source_remedy()


def test_a_missing_browser_is_never_passed_over(run: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without Chromium and without the right to install it, the run stops and names the way out."""
    monkeypatch.delenv("POLLSTEAD_CHROMIUM", raising=False)
    monkeypatch.setattr(run.shutil, "which", lambda name, path=None: None)
    with pytest.raises(run.Stop, match="--no-browser"):
        run.need_browser()


@pytest.mark.parametrize("without", [(), ("chromium-headless-shell",)])
def test_the_browser_without_windows_is_taken_and_the_whole_one_where_there_is_none(
    run: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, without: tuple[str, ...]
) -> None:
    """The same engine serves both; a Debian that has no package of the small one installs the whole one."""
    monkeypatch.delenv("POLLSTEAD_CHROMIUM", raising=False)
    monkeypatch.setenv("DEBIAN_FRONTEND", "noninteractive")
    monkeypatch.setattr(run.os, "geteuid", lambda: 0, raising=False)
    there = {"apt-get"}
    monkeypatch.setattr(run.shutil, "which", lambda name, path=None: name if name in there else None)

    def install(command: list[str], doing: str, remedy: str) -> None:
        if command[-1] in without:
            raise run.Stop(f"{doing} failed")
        if command[1] == "install":
            there.add(command[-1])

    monkeypatch.setattr(run, "run_quietly", install)
    wanted = "chromium" if without else "chromium-headless-shell"
    assert run.need_browser() == wanted
    there.add("chromium")
    assert run.find_browser() == wanted


def test_a_failing_installer_is_quoted(run: ModuleType, tmp_path: Path) -> None:
    """What the installer said is shown with a remedy, without its notes about unused folders."""
    program = "import sys; print('WARNING: Location x is ignored'); print('no such thing'); sys.exit(3)"
    with pytest.raises(run.Stop) as stopped:
        run.run_quietly([sys.executable, "-c", program], "installing it", "What next: mend it.")
    told = str(stopped.value)
    assert "installing it failed (exit code 3)" in told and "no such thing" in told
    assert "What next: mend it." in told and "Location" not in told


@pytest.mark.parametrize(("arguments", "code"), [(["--help"], 0), ([], 2), (["nonsense"], 2)])
def test_usage_ends_with_two_and_help_with_zero(arguments: list[str], code: int) -> None:
    """A wrong command is a usage error; help is not; neither installs anything."""
    done = subprocess.run(
        [sys.executable, str(ROOT / "run.py"), *arguments],
        capture_output=True,
        text=True,
        env=dict(os.environ, COLUMNS="100"),
        check=False,
    )
    assert done.returncode == code
    assert "usage" in (done.stdout + done.stderr)


@pytest.mark.full
def test_a_fresh_fault_seed_is_printed_and_shared_by_all_workers(tmp_path: Path) -> None:
    """Each run draws a new seed, prints it, and gives the same one to every worker process."""
    shutil.copy(ROOT / "tests" / "conftest.py", tmp_path)
    # A package of this name nearer than any that another library leaves in site-packages.
    (tmp_path / "tests").mkdir()
    (tmp_path / "tests" / "__init__.py").touch()
    shutil.copy(ROOT / "tests" / "once.py", tmp_path / "tests")
    (tmp_path / "test_seed.py").write_text(
        "import os, pathlib, pytest\n"
        "@pytest.mark.parametrize('n', range(6))\n"
        "def test_seed(n, fault_seed):\n"
        "    worker = os.environ['PYTEST_XDIST_WORKER']\n"
        "    pathlib.Path(__file__).with_name(f'{worker}.txt').write_text(str(fault_seed))\n",
        encoding="utf-8",
    )
    environment = {name: value for name, value in os.environ.items() if not name.startswith("P")}
    environment |= {"PATH": os.environ["PATH"]}
    printed = set()
    # The second run only draws and prints a seed; workers of it would show nothing more.
    for more in (["-n", "2"], ["--collect-only"]):
        done = subprocess.run(
            [sys.executable, "-m", "pytest", *more, "-p", "no:cacheprovider", str(tmp_path)],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        told = re.search(r"^fault seed (\d+)", done.stdout, re.M)
        assert told, done.stdout
        if more[0] == "-n":
            assert {path.read_text("utf-8") for path in tmp_path.glob("gw*.txt")} == {told[1]}
        printed.add(told[1])
    assert len(printed) == 2
