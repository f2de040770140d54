"""The house keeps its walls: what may be imported where, and what a pure part may touch."""

from __future__ import annotations

import ast
import json
import os
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "src" / "pollstead"
PURE = ("plan", "reconcile")

FORBIDDEN_MODULES = frozenset(
    "os io socket ssl time pathlib sqlite3 subprocess threading multiprocessing asyncio tempfile shutil glob "
    "secrets uuid random importlib logging http urllib platform locale getpass signal".split()
)
FORBIDDEN_CALLS = frozenset("open input print exec eval __import__ breakpoint globals".split())
FORBIDDEN_METHODS = frozenset(
    "now utcnow today read_text write_text read_bytes write_bytes tofile fromfile".split()
)
SEEDED_RANDOM = frozenset("Generator SeedSequence PCG64 PCG64DXSM Philox default_rng BitGenerator".split())
HEAVY = ("alembic", "granian", "litestar", "llvmlite", "numba", "numpy", "sqlalchemy", "typst")


def impurities(source: str) -> list[str]:
    """Everything in `source` that reaches a file, a socket, the clock or state outside its arguments."""
    found = []
    for node in ast.walk(ast.parse(source)):
        line = getattr(node, "lineno", 0)
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            names = [node.module or ""]
            if node.module == "numpy":
                names += [f"numpy.{alias.name}" for alias in node.names if alias.name == "random"]
        else:
            names = []
        found += [f"{line}: imports {name}" for name in names if name.split(".")[0] in FORBIDDEN_MODULES]
        if isinstance(node, ast.Global):
            found.append(f"{line}: global {', '.join(node.names)}")
        if isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Name) and called.id in FORBIDDEN_CALLS:
                found.append(f"{line}: calls {called.id}()")
            if isinstance(called, ast.Attribute) and called.attr in FORBIDDEN_METHODS:
                found.append(f"{line}: calls .{called.attr}()")
        if (
            isinstance(node, ast.Attribute)
            and isinstance(node.value, ast.Attribute)
            and node.value.attr == "random"
            and node.attr not in SEEDED_RANDOM
        ):
            found.append(f"{line}: uses the shared random state .random.{node.attr}")
    return found


@pytest.mark.parametrize("part", PURE)
def test_plan_and_reconcile_touch_nothing_outside(part: str) -> None:
    """Plan and reconcile reach no file, socket, clock, environment or shared random state."""
    modules = sorted((PACKAGE / part).rglob("*.py"))
    assert modules
    faults = [
        f"{module.relative_to(ROOT)}:{fault}"
        for module in modules
        for fault in impurities(module.read_text(encoding="utf-8"))
    ]
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize(
    "source",
    [
        "import os",
        "from pathlib import Path",
        "import os.path as p",
        "from datetime import datetime\nx = datetime.now()",
        "import datetime as dt\nx = dt.date.today()",
        "import random\nx = random.random()",
        "import numpy as np\nx = np.random.rand(3)",
        "def f():\n    import sqlite3",
        "x = open('a')",
        "def f():\n    global x\n    x = 1",
    ],
)
def test_each_way_out_of_a_pure_part_is_noticed(source: str) -> None:
    """The check of pure parts does fail for each way to reach outside."""
    assert impurities(source)


def test_seeded_random_numbers_are_pure() -> None:
    """A generator made from a seed that comes in is not taken for shared state."""
    assert impurities("import numpy as np\nx = np.random.Generator(np.random.PCG64(7))") == []


def contracts() -> dict[str, dict[str, Any]]:
    """The import contracts in pyproject.toml, by id."""
    with (ROOT / "pyproject.toml").open("rb") as stream:
        listed = tomllib.load(stream)["tool"]["importlinter"]["contracts"]
    return {contract["id"]: contract for contract in listed}


def plan_parts() -> set[str]:
    """The parts of the plan, as module names; the terms that pass between them are no part."""
    return {f"pollstead.plan.{path.parent.name}" for path in (PACKAGE / "plan").glob("*/__init__.py")} - {
        "pollstead.plan.terms"
    }


def test_every_part_of_the_plan_stands_in_the_contract() -> None:
    """A new part of the plan cannot be added without the import contracts that keep it independent."""
    assert plan_parts() <= {
        name.strip(" ()") for layer in contracts()["layers"]["layers"] for name in layer.split("|")
    }
    for contract in ("reconcile", "store"):
        assert plan_parts() <= set(contracts()[contract]["forbidden_modules"])


def test_every_package_stands_in_the_layers() -> None:
    """A new top package cannot be added without saying what it may import."""
    listed = {name.strip(" ()") for layer in contracts()["layers"]["layers"] for name in layer.split("|")}
    packages = {path.parent.name for path in PACKAGE.glob("*/__init__.py")} - {"plan"}
    assert {f"pollstead.{package}" for package in packages} <= listed


@pytest.mark.full
@pytest.mark.parametrize(
    ("module", "line"),
    [
        ("election", "import pollstead.record"),
        ("intake", "import pollstead.plan.terms"),
        ("plan/demand", "import pollstead.plan.lines"),
        ("plan/seals", "import pollstead.record"),
        ("plan/lines", "def f():\n    import sqlalchemy"),
        ("record", "import pollstead.plan.terms"),
        ("reconcile", "import pollstead.plan.stations"),
        ("reconcile", "import pollstead.store"),
        ("store", "import pollstead.plan.demand"),
        ("store", "import pollstead.work"),
        ("work", "import pollstead.show"),
        ("show", "import pollstead.cli"),
    ],
)
def test_an_import_outward_breaks_a_contract(tmp_path: Path, module: str, line: str) -> None:
    """Each import that the design forbids is refused by the contracts, not only by habit."""
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    for package in PACKAGE.rglob("__init__.py"):
        empty = tmp_path / "src" / package.relative_to(ROOT / "src")
        empty.parent.mkdir(parents=True, exist_ok=True)
        empty.touch()
    (tmp_path / "src" / "pollstead" / module / "__init__.py").write_text(line + "\n", encoding="utf-8")
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            "from importlinter.cli import lint_imports_command as main; main()",
            "--no-cache",
        ],
        cwd=tmp_path,
        env=dict(os.environ, PYTHONPATH=str(tmp_path / "src")),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1, done.stdout + done.stderr
    assert "BROKEN" in done.stdout, done.stdout + done.stderr


def test_plan_package_itself_is_empty() -> None:
    """Importing one part of the plan loads no other: plan/__init__.py has no code."""
    assert (PACKAGE / "plan" / "__init__.py").read_text(encoding="utf-8").strip() == ""


def test_help_loads_no_heavy_library() -> None:
    """Asking the command line for help imports no solver, web server, database or print library."""
    program = (
        "import json, sys\n"
        "from pollstead.cli.main import main\n"
        "sys.argv = ['pollstead', '--help']\n"
        "try:\n    main()\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
        f"print(json.dumps([name for name in {HEAVY!r} if name in sys.modules]))\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout.splitlines()[-1]) == []


def compiler_imports(source: str) -> list[str]:
    """What `source` imports of the compiler's insides: vectors of its own, types, ways to extend it."""
    names = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            names += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            names += [node.module, *(f"{node.module}.{alias.name}" for alias in node.names)]
    inside = ("llvmlite", "numba.core", "numba.extending", "numba.types", "numba.np", "numba.typed")
    return [name for name in names if any(name == part or name.startswith(part + ".") for part in inside)]


@pytest.mark.full
def test_one_module_alone_knows_the_compiler() -> None:
    """Vectors are explicit in plan/lines/vectors.py; whoever else compiles asks for no more than `njit`."""
    fence = PACKAGE / "plan" / "lines" / "vectors.py"
    assert compiler_imports(fence.read_text(encoding="utf-8"))
    faults = {
        str(module.relative_to(ROOT)): found
        for module in sorted(PACKAGE.rglob("*.py"))
        if module != fence and (found := compiler_imports(module.read_text(encoding="utf-8")))
    }
    assert not faults
    assert compiler_imports("from numba import types\nimport llvmlite.ir") == ["numba.types", "llvmlite.ir"]
