"""Install Pollstead into its own checkout and run it: demo, test, check, exec, lock.

Standard library only. Nothing is written outside the checkout, except what uv keeps in its own cache
and, where the browser is missing on Debian, what the package manager installs.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
from concurrent.futures import Future, ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple, NoReturn

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
TOOLS = ROOT / ".tools"
WINDOWS = os.name == "nt"
BIN = VENV / ("Scripts" if WINDOWS else "bin")
PYTHON = BIN / ("python.exe" if WINDOWS else "python")
STAMP = VENV / "pollstead-installed.json"
RUNTIME_LOCK = ROOT / "requirements.lock"
DEV_LOCK = ROOT / "requirements-dev.lock"
UV_LOCK = ROOT / "requirements-uv.lock"
OLDEST_PYTHON = (3, 11)
# The same engine without windows comes first: pages take a third less of the processor in it.
BROWSER_NAMES = ("chromium-headless-shell", "chromium", "chromium-browser", "chrome", "google-chrome")
BROWSER_PACKAGES = ("chromium-headless-shell", "chromium")
FULL_MARKERS = "not long"
FAST_MARKERS = "not full and not browser and not long"
# Three processes on two cores: one of them mostly waits, for a browser, a child process, or for what another
# one makes for all. With four the run took longer: 1,005 s and 1,681 CPU-s after 852 s and 1,424.
# Each process begins with a stretch of the tests in their order, so that what a folder of tests shares is
# seldom made twice, and takes from the longest rest when its own is done.
SHARED_OUT = ("-n", "3", "--dist", "worksteal")
# Fast tests wait for nobody, and each process reads all of them, 12 s of the processor.
SHARED_OUT_FAST = ("-n", "2", "--dist", "worksteal")
# Folders that run in the full tier alone: reading their tests (a web server, forty sites) takes seconds, and
# the waiting lines are compiled, a quarter of a minute after each change of them, and simulated by the day.
FULL_FOLDERS = ("bench", "docs", "faults", "larkmoor", "lines", "outside", "web", "whole", "work")


class Stop(Exception):
    """Something could not be done; the text says what, why and what to do next."""


def say(text: str) -> None:
    """Tell the person what is being done; standard error, so that output of `exec` stays clean."""
    print(f"pollstead: {text}", file=sys.stderr, flush=True)


def seconds_since(start: float) -> str:
    """Elapsed wall time as text, for people only."""
    return f"{time.perf_counter() - start:.1f} s"


# --- the environment -------------------------------------------------------------------------------


def wheels_folder() -> Path | None:
    """The folder of wheels to install from instead of a package index, or None."""
    named = os.environ.get("POLLSTEAD_WHEELS")
    if not named:
        return None
    folder = Path(named).resolve()
    if not folder.is_dir():
        raise Stop(
            f"POLLSTEAD_WHEELS names {folder}, which is not a folder. Expected a folder of .whl files; "
            "correct the variable, or unset it to install from the package index."
        )
    return folder


def source_arguments() -> list[str]:
    """Where packages come from: options that pip and uv both understand."""
    folder = wheels_folder()
    return [] if folder is None else ["--no-index", "--find-links", str(folder)]


def child_environment() -> dict[str, str]:
    """The environment for programs that run inside .venv."""
    environment = dict(os.environ)
    environment["PATH"] = str(BIN) + os.pathsep + environment.get("PATH", os.defpath)
    environment["VIRTUAL_ENV"] = str(VENV)
    environment["UV_PYTHON_DOWNLOADS"] = "never"
    environment.pop("PYTHONHOME", None)
    if environment.pop("PYTHONDONTWRITEBYTECODE", ""):
        # The wish for a clean tree is kept, and not every process compiles thousands of modules anew.
        environment.setdefault("PYTHONPYCACHEPREFIX", str(TOOLS / "bytecode"))
    return environment


def run_quietly(command: list[str], doing: str, remedy: str) -> None:
    """Run an installer step; on failure raise Stop with its own last lines and a remedy."""
    done = subprocess.run(
        command,
        cwd=ROOT,
        env=child_environment(),
        capture_output=True,
        text=True,
        errors="replace",
        check=False,
    )
    if done.returncode == 0:
        return
    told = [line for line in (done.stdout + done.stderr).splitlines() if line.strip()]
    # pip tells about package folders of the machine that it does not use; that is no part of the fault.
    told = [line for line in told if not (line.startswith(("WARNING: Location", "Looking in")))]
    raise Stop(
        "\n".join(
            [
                f"{doing} failed (exit code {done.returncode}). It said:",
                *("    " + line for line in told[-25:]),
                remedy,
            ]
        )
    )


def source_remedy() -> str:
    """What to do when packages did not come, by where they were to come from."""
    folder = wheels_folder()
    if folder is not None:
        return (
            f"What next: put the wheels that the lock files name, for this system and for Python "
            f"{sys.version_info.major}.{sys.version_info.minor}, into {folder}, or unset POLLSTEAD_WHEELS to "
            "install from the package index. Then run the same command again."
        )
    return (
        "What next: check that this machine reaches its Python package index (uv takes another one from "
        "UV_DEFAULT_INDEX, pip from PIP_INDEX_URL), or set POLLSTEAD_WHEELS to a folder of the wheels "
        "named in the lock files. Then run the same command again; it goes on where it stopped."
    )


def find_uv() -> str:
    """The machine's own uv, else the checkout's, else the pinned one installed into the checkout."""
    own = shutil.which("uv")
    if own:
        return own
    name = "uv.exe" if WINDOWS else "uv"
    kept = TOOLS / digest_of(UV_LOCK)[:16]
    places = (kept / "bin" / name, kept / "Scripts" / name)
    for place in places:
        if place.is_file():
            return str(place)
    # --target needs neither a virtual environment nor the right to change the machine's Python.
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet", "install"]
    command += ["--no-deps", "--only-binary", ":all:", "--require-hashes", "--target", str(kept)]
    command += [*source_arguments(), "-r", str(UV_LOCK)]
    say("installing the installer (uv, pinned by hash) into .tools")
    run_quietly(
        command,
        "installing uv with pip",
        source_remedy() + " If it said that there is no module named pip: install pip for this Python first "
        "(on Debian: apt-get install python3-pip), or put uv on the PATH.",
    )
    for place in places:
        if place.is_file():
            return str(place)
    raise Stop(f"pip installed uv into {kept}, but no program {name} is there. Delete .tools and run again.")


def digest_of(path: Path) -> str:
    """SHA-256 of a file's bytes, as hexadecimal digits."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except FileNotFoundError:
        raise Stop(
            f"{path.name} is missing from {ROOT}. Take it from the repository, or run ./run lock."
        ) from None


def wanted_stamp(dev: bool) -> dict[str, str]:
    """What must have been installed, as digests; a moved checkout counts as another one."""
    wanted = {
        "folder": str(ROOT),
        "project": digest_of(ROOT / "pyproject.toml"),
        "runtime": digest_of(RUNTIME_LOCK),
    }
    if dev:
        wanted["dev"] = digest_of(DEV_LOCK)
    return wanted


def read_stamp() -> dict[str, str]:
    """What an earlier run installed; empty where nothing is known."""
    try:
        found = json.loads(STAMP.read_text(encoding="utf-8"))
    except (FileNotFoundError, ValueError):
        return {}
    return found if isinstance(found, dict) else {}


def make_environment(dev: bool) -> None:
    """Bring .venv to what the lock files say; returns at once when it is so already.

    dev: also install what tests and checks need. Raises Stop.
    """
    wanted = wanted_stamp(dev)
    stamp = read_stamp()
    if PYTHON.exists() and all(stamp.get(key) == value for key, value in wanted.items()):
        return
    start = time.perf_counter()
    uv = find_uv()
    moved = stamp.get("folder", str(ROOT)) != str(ROOT)
    if moved or not PYTHON.exists():
        if VENV.exists():
            why = "the checkout was moved" if moved else "its Python is gone"
            say(f"making .venv anew, because {why}")
        else:
            say(f"making .venv with Python {sys.version.split()[0]}")
        run_quietly(
            [uv, "venv", "--quiet", "--clear", "--python", sys.executable, str(VENV)],
            "making the environment .venv",
            "What next: close programs that use .venv, delete that folder, and run the same command again.",
        )
    lock = DEV_LOCK if dev else RUNTIME_LOCK
    say(f"installing what {lock.name} names into .venv (the first time this takes a while)")
    install = [uv, "pip", "install", "--quiet", "--python", str(PYTHON), *source_arguments()]
    run_quietly([*install, "--require-hashes", "-r", str(lock)], f"installing {lock.name}", source_remedy())
    run_quietly(
        [*install, "--no-deps", "--no-build-isolation", "--editable", str(ROOT)],
        "installing Pollstead itself into .venv",
        "What next: the message above names the fault in pyproject.toml or in a file that it names.",
    )
    # A run without --dev leaves an older development set in place but no longer vouches for it.
    STAMP.with_suffix(".new").write_text(json.dumps(wanted, indent=1), encoding="utf-8")
    STAMP.with_suffix(".new").replace(STAMP)
    say(f"the environment is ready ({seconds_since(start)})")


def become(command: list[str], extra: dict[str, str] | None = None) -> NoReturn:
    """Run the last program of this command and end with its exit code."""
    environment = child_environment() | (extra or {})
    program = shutil.which(command[0], path=environment["PATH"])
    if program is None:
        raise Stop(
            f"no program named {command[0]!r} in .venv or on the PATH. `./run exec python` is always there."
        )
    sys.stdout.flush()
    sys.stderr.flush()
    if not WINDOWS:
        # Taking the program's place lets it receive signals itself.
        os.execve(program, command, environment)  # noqa: S606
    try:
        sys.exit(subprocess.call([program, *command[1:]], env=environment))
    except KeyboardInterrupt:
        sys.exit(130)


# --- the browser -----------------------------------------------------------------------------------


def find_browser() -> str | None:
    """The Chromium that browser tests use, or None."""
    named = os.environ.get("POLLSTEAD_CHROMIUM")
    if named:
        if not Path(named).is_file():
            raise Stop(f"POLLSTEAD_CHROMIUM names {named}, which is not a file. Correct or unset it.")
        return named
    for name in BROWSER_NAMES:
        found = shutil.which(name)
        if found:
            return found
    return None


def need_browser() -> str:
    """Chromium's path; on Debian, as root, it is installed where missing. Raises Stop."""
    found = find_browser()
    if found:
        return found
    apt = shutil.which("apt-get")
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    if apt is None or not root:
        why = "there is no apt-get to install it with" if apt is None else "installing it needs root"
        raise Stop(
            f"the browser tests cannot run: no Chromium was found, and {why}. What next: install Chromium "
            "(on Debian: apt-get install chromium), or name its program in POLLSTEAD_CHROMIUM, or leave "
            "those tests out knowingly with ./run test --no-browser."
        )
    start = time.perf_counter()
    say("no Chromium was found: installing Debian's package of it (apt-get update, apt-get install)")
    os.environ["DEBIAN_FRONTEND"] = "noninteractive"
    remedy = "What next: run apt-get install chromium by hand, or ./run test --no-browser."
    run_quietly([apt, "update", "-q"], "apt-get update", remedy)
    install = [apt, "install", "-q", "-y", "--no-install-recommends"]
    for package in BROWSER_PACKAGES:
        try:
            run_quietly([*install, package], f"installing {package}", remedy)
            break
        except Stop as stop:
            if package == BROWSER_PACKAGES[-1]:
                raise
            say(str(stop).splitlines()[0] + f" Now {BROWSER_PACKAGES[-1]} is tried.")
    found = find_browser()
    if not found:
        raise Stop("apt-get installed Chromium, but no program of its names is on the PATH. " + remedy)
    say(f"Chromium is installed ({seconds_since(start)})")
    return found


# --- the commands ----------------------------------------------------------------------------------


def demo(arguments: list[str]) -> NoReturn:
    """Make, plan, print, load and serve the invented county in a folder under demo/ of the checkout."""
    make_environment(dev=False)
    os.chdir(ROOT)
    become([str(PYTHON), "-m", "pollstead.cli.demo", *arguments])


def test(arguments: list[str]) -> NoReturn:
    """Run every test but the benchmarks; further arguments go to pytest."""
    extra: dict[str, str] = {}
    if "--no-browser" in arguments:
        arguments = [argument for argument in arguments if argument != "--no-browser"]
        extra["POLLSTEAD_NO_BROWSER"] = "1"
    else:
        extra["POLLSTEAD_CHROMIUM"] = need_browser()
    make_environment(dev=True)
    os.chdir(ROOT)
    command = [str(PYTHON), "-m", "pytest", *SHARED_OUT, "--durations=20", "-m", FULL_MARKERS]
    become([*command, *arguments], extra)


def execute(arguments: list[str]) -> NoReturn:
    """Run any command in the environment."""
    dev = arguments[:1] == ["--dev"]
    command = arguments[1:] if dev else arguments
    if not command:
        raise Stop("./run exec needs a command, for example: ./run exec pollstead --help")
    make_environment(dev=dev)
    become(command)


class Step(NamedTuple):
    """One step of `check`: its name, its command, and whether it is a Python module."""

    name: str
    command: list[str]


class Outcome(NamedTuple):
    """What a step came to: exit code, wall seconds, everything it printed."""

    code: int
    seconds: float
    text: str


def run_step(step: Step) -> Outcome:
    """Run one step with its output kept, so that two steps side by side stay readable."""
    start = time.perf_counter()
    done = subprocess.run(
        step.command,
        cwd=ROOT,
        env=child_environment(),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        check=False,
    )
    return Outcome(done.returncode, time.perf_counter() - start, done.stdout)


def check(arguments: list[str]) -> NoReturn:
    """Lint, format, types, imports and the fast tests; exit 1 when any of them fails."""
    start = time.perf_counter()
    make_environment(dev=True)
    python = str(PYTHON)
    os.environ.setdefault("POLLSTEAD_EXAMPLES", "quick")
    left_out = [f"--ignore={Path('tests', folder)}" for folder in FULL_FOLDERS]
    pytest = [python, "-m", "pytest", *SHARED_OUT_FAST, "-q", "-m", FAST_MARKERS, *left_out, *arguments]
    steps = [
        # The slowest first: with two cores the others fill the gaps that it leaves.
        Step("fast tests", pytest),
        Step("types", [python, "-m", "mypy"]),
        Step("lint", [python, "-m", "ruff", "check", "--quiet", "."]),
        Step("format", [python, "-m", "ruff", "format", "--check", "--quiet", "."]),
        Step("imports", [str(BIN / ("lint-imports.exe" if WINDOWS else "lint-imports"))]),
    ]
    failed = []
    with ThreadPoolExecutor(max_workers=2) as pool:
        running: list[tuple[Step, Future[Outcome]]] = [(step, pool.submit(run_step, step)) for step in steps]
        # Shown in the order in which a person mends them: the quick ones first.
        for step, future in [*running[1:], running[0]]:
            outcome = future.result()
            print(
                f"{'ok    ' if outcome.code == 0 else 'FAILED'}  {step.name:<11} {outcome.seconds:5.1f} s",
                flush=True,
            )
            if outcome.code != 0:
                failed.append(step.name)
                print(outcome.text.rstrip(), flush=True)
            elif step.name == "fast tests":
                print("        " + (outcome.text.strip().splitlines() or [""])[-1])
    print(f"{'ok    ' if not failed else 'FAILED'}  all         {time.perf_counter() - start:5.1f} s")
    if failed:
        print(
            "To mend: "
            + ", ".join(failed)
            + ". (./run exec ruff check --fix . and ./run exec ruff format . help.)"
        )
    sys.exit(1 if failed else 0)


def compile_lock(uv: str, sources: list[str], out: Path, upgrade: bool, given: str | None = None) -> None:
    """Write one lock file: every platform, every hash, no address of any index."""
    command = [
        uv,
        "pip",
        "compile",
        "--quiet",
        "--universal",
        "--python-version",
        "3.11",
        "--generate-hashes",
    ]
    command += ["--no-emit-index-url", "--no-emit-find-links", "--custom-compile-command", "./run lock"]
    command += [*(["--upgrade"] if upgrade else []), *source_arguments(), *sources, "-o", out.name]
    done = subprocess.run(
        command, cwd=ROOT, env=child_environment(), input=given, capture_output=True, text=True, check=False
    )
    if done.returncode != 0:
        raise Stop(f"making {out.name} failed:\n{done.stderr.strip()}\n{source_remedy()}")
    if "://" in out.read_text(encoding="utf-8"):
        raise Stop(
            f"{out.name} holds an address, which must not be committed. Is a dependency given by address?"
        )
    say(f"{out.name} written")


def lock(arguments: list[str]) -> NoReturn:
    """Remake the lock files from pyproject.toml; --upgrade moves to the newest versions."""
    upgrade = arguments == ["--upgrade"]
    if arguments and not upgrade:
        raise Stop(f"./run lock takes only --upgrade, not {' '.join(arguments)}")
    uv = find_uv()
    build = ["pyproject.toml", "--group", "build"]
    compile_lock(uv, ["--no-annotate", "-"], UV_LOCK, upgrade, given="uv\n")
    compile_lock(uv, build, RUNTIME_LOCK, upgrade)
    # Held to the runtime versions, so that what is tested is what is installed.
    compile_lock(uv, [*build, "--group", "dev", "-c", RUNTIME_LOCK.name], DEV_LOCK, upgrade)
    sys.exit(0)


COMMANDS = {"demo": demo, "test": test, "exec": execute, "check": check, "lock": lock}


def main(arguments: list[str]) -> int:
    """Choose the command; 0 done, 1 could not be done, 2 usage."""
    if sys.version_info[:2] < OLDEST_PYTHON:
        print(f"pollstead: needs Python 3.11 or newer; this is {sys.version.split()[0]}.", file=sys.stderr)
        return 1
    parser = argparse.ArgumentParser(
        prog="./run",
        description="Install Pollstead into this checkout and run it.",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        epilog=(
            "  demo [--small] [--no-serve] the invented county: plan, packets, its days, the app\n"
            "  test [--no-browser] [ARG...]  all tests; ARG goes to pytest\n"
            "  check [ARG...]                lint, types, imports and the fast tests\n"
            "  exec [--dev] COMMAND ...      any command in the environment\n"
            "  lock [--upgrade]            remake the lock files\n\n"
            "POLLSTEAD_WHEELS=FOLDER installs from a folder of wheels instead of a package index."
        ),
    )
    parser.add_argument("command", choices=list(COMMANDS))
    command = parser.parse_args(arguments[:1]).command
    try:
        COMMANDS[command](arguments[1:])
    except Stop as stop:
        say(str(stop))
        return 1
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
