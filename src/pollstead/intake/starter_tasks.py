"""The list of tasks that ships as a start: common practice, with no date by law switched on.

The county copies it, changes it and has counsel look at each date. Source of every row: common practice, no
source; varies by county.
"""

from __future__ import annotations

import importlib.resources

FILE = "starter_tasks.csv"


def starter_text() -> str:
    """The shipped list as the text of ``tasks.csv``."""
    return importlib.resources.files("pollstead.intake").joinpath("data", FILE).read_text(encoding="utf-8")
