"""Sheets of a sample packet, for tests that stand outside the packet's own folder."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from pollstead.show.packet.content import Sheet


@pytest.fixture(scope="session")
def packet_sheets() -> Callable[[str], tuple[Sheet, ...]]:
    """The sheets of a sample site, expected list included, in a language."""
    from pollstead.show.packet.packet import expected, packet

    name = "packet_sample"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).parent / "packet" / "sample.py")
        assert spec is not None and spec.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    sample = sys.modules[name]

    def get(language: str) -> tuple[Sheet, ...]:
        given = sample.given("S01", language=language)
        blank, listed = packet(given), expected(given)
        after, only, _ = sample.changed(language)
        new = packet(after, only=only)
        assert blank is not None and listed is not None and new is not None
        return (*blank.sheets, *listed.sheets, new.sheets[0])

    return get
