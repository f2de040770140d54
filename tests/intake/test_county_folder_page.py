"""docs/county-folder.md says what the code reads."""

from __future__ import annotations

import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "docs" / "tools"))

import county_folder_page  # noqa: E402
from found import MAKE  # noqa: E402


def keys(table: Any) -> Iterator[str]:
    """Every key of a TOML file, inner tables too."""
    if isinstance(table, dict):
        for key, inner in table.items():
            yield key
            yield from keys(inner)
    elif isinstance(table, list):
        for inner in table:
            yield from keys(inner)


def test_page_is_what_the_code_says() -> None:
    """The committed page is what the tool writes from the value types."""
    assert county_folder_page.PAGE.read_text(encoding="utf-8") == county_folder_page.page(), f"run: {MAKE}"


def test_every_key_of_the_small_county_is_described() -> None:
    """Each column and key that the county for tests uses stands on the page."""
    page = county_folder_page.page()
    used = set()
    for path in (ROOT / "small").iterdir():
        if path.suffix == ".csv":
            used |= set(path.read_text(encoding="utf-8").splitlines()[0].split(","))
        elif path.suffix == ".toml":
            used |= set(keys(tomllib.loads(path.read_text(encoding="utf-8"))))
    missing = {
        key for key in used if f"`{key}`" not in page and f".{key}]" not in page and f"[{key}]" not in page
    }
    assert len(used) > 60
    assert missing == set()
