"""Set-up steps to a run sheet: earliest times, the critical path, and how many people at once."""

from __future__ import annotations

from pollstead.plan.setup.run_sheet import run

__all__ = ["run"]
