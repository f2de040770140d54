"""Documents point at files that are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
DOCUMENTS = sorted([*(ROOT / "docs").rglob("*.md"), ROOT / "README.md", ROOT / "CONTRIBUTING.md"])
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_every_link_leads_somewhere(path: Path) -> None:
    """Each relative link and picture of a document is a file of the checkout."""
    text = re.sub(r"```.*?```|`[^`\n]*`", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    gone = [
        target
        for target in LINK.findall(text)
        if not re.match(r"[a-z]+:", target)
        and target.partition("#")[0]
        and not (path.parent / target.partition("#")[0]).exists()
    ]
    assert not gone, f"{path.relative_to(ROOT)}: {gone}"


def test_index_leads_to_every_document() -> None:
    """docs/index.md links every document below docs, so that none is lost."""
    linked = set(LINK.findall((ROOT / "docs" / "index.md").read_text(encoding="utf-8")))
    pages = {p.relative_to(ROOT / "docs").as_posix() for p in (ROOT / "docs").rglob("*.md")}
    assert pages - {"index.md"} - linked == set()
