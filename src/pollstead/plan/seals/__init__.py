"""Which closures carry which seal, how many are needed, and the expected set."""

from __future__ import annotations

from pollstead.plan.seals.build import run

__all__ = ["run"]
