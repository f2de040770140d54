"""Station types times counts to stations with ids, and who gets which machine."""

from __future__ import annotations

from pollstead.plan.stations.build import run

__all__ = ["run"]
