"""Planning as it is asked for from a command, a job or a page: with the notices of letters without a font."""

from __future__ import annotations

from pathlib import Path

from pollstead.plan.terms.part import Effort, Watch
from pollstead.show.letters import letters_without_font
from pollstead.work import planning


def plan_folder(
    folder: Path, *, watch: Watch, effort: Effort = Effort.QUICK, seed: int = 1, workers: int | str = 0
) -> str:
    """Plan a county folder, keep the version, give its digest; see `pollstead.work.planning.plan_folder`."""
    return planning.plan_folder(
        folder, watch=watch, effort=effort, seed=seed, workers=workers, also_told=letters_without_font
    )
