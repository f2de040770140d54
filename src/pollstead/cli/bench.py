"""``pollstead bench``: measure a part and print the figures. Thin: finds the part and runs it.

A part is ``bench/PART.py`` or ``bench/PART/run.py`` of the checkout; benches are not part of the installed
package. Everything after the part's name goes to the part; ``--json`` asks it for its figures as JSON.
"""

from __future__ import annotations

import importlib
import runpy
import sys
from pathlib import Path
from typing import Annotated

import cyclopts

from pollstead.election.words import N_, message
from pollstead.show.words import fill, text

CHECKOUT = Path(__file__).resolve().parents[3]
FOLDER = "bench"

app = cyclopts.App(name="bench", help=text(N_("Measure a part and print the figures.")))


@app.default
def bench(
    part: Annotated[str, cyclopts.Parameter(help=text(N_("The part to measure.")))],
    /,
    *more: Annotated[
        str,
        cyclopts.Parameter(
            allow_leading_hyphen=True,
            help=text(N_("What the part is asked for, such as --json.")),
        ),
    ],
) -> int:
    """Run the bench of a part with its own options.

    Returns what the part returns: 0 when measured. 1 outside a checkout, 2 for a part that is not there.
    """
    folder = CHECKOUT / FOLDER
    if not folder.is_dir():
        said = message(N_("A bench needs {folder}, which only a checkout has."), folder=str(folder))
        print(fill(said), file=sys.stderr)
        return 1
    if part not in parts(folder):
        said = message(
            N_("No part {part} is measured here. Parts: {parts}"), part=part, parts=", ".join(parts(folder))
        )
        print(fill(said), file=sys.stderr)
        return 2
    # A part's modules, and the processes that it starts, are found from the checkout.
    if str(CHECKOUT) not in sys.path:
        sys.path.insert(0, str(CHECKOUT))
    if (folder / part / "run.py").is_file():
        return int(importlib.import_module(f"{FOLDER}.{part}.run").main(list(more)))
    return _script(folder / f"{part}.py", more)


def parts(folder: Path) -> tuple[str, ...]:
    """The parts that have a bench in `folder`, in order."""
    scripts = [one.stem for one in folder.glob("*.py")]
    packages = [one.parent.name for one in folder.glob("*/run.py")]
    return tuple(sorted({*scripts, *packages}))


def _script(path: Path, more: tuple[str, ...]) -> int:
    """Run a bench that is one script as if it were started by itself; its exit code."""
    before = sys.argv
    sys.argv = [str(path), *more]
    try:
        runpy.run_path(str(path), run_name="__main__")
    except SystemExit as ended:
        if isinstance(ended.code, str):
            print(ended.code, file=sys.stderr)
            return 1
        return int(ended.code or 0)
    finally:
        sys.argv = before
    return 0
