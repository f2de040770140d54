"""Packing lists: what goes to each site, how many, and why."""

from __future__ import annotations

from pollstead.plan.supplies.build import run

__all__ = ["run"]
