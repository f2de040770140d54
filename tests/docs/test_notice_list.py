"""docs/notices.md lists every notice that the code can give, with its words."""

from __future__ import annotations

import re

import list_notices
from found import MAKE


def rule_pattern(rule: str) -> re.Pattern[str]:
    """A listed rule as a pattern: what stands in braces is filled in where the notice is given."""
    return re.compile(
        "".join(".+" if p.startswith("{") else re.escape(p) for p in re.split(r"(\{[^{}]*\})", rule))
    )


def test_notice_list_is_what_the_code_says() -> None:
    """The page is what the tool writes from the code."""
    assert list_notices.PAGE.read_text(encoding="utf-8") == list_notices.page(), f"run: {MAKE}"


def test_every_notice_has_kind_and_words() -> None:
    """No rule is listed without its kind and its words, and a fault has its grade."""
    rows = list_notices.rows()
    assert len(rows) > 60
    for row in rows:
        assert row.kind in {"fault", "open item", "difference", "rule not met"}, row
        assert row.words, row
        assert (row.kind == "fault") == bool(row.grade), row


def test_notices_of_a_county_with_faults_are_listed() -> None:
    """Every notice that reading the small county with planted mistakes gives stands in the list."""
    import shutil
    import tempfile
    from pathlib import Path

    from pollstead.intake.folder import read_folder

    listed = [rule_pattern(row.rule) for row in list_notices.rows()]
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "county"
        shutil.copytree(Path(__file__).resolve().parents[2] / "small", copy)
        sites = (copy / "sites.csv").read_text(encoding="utf-8").splitlines()
        (copy / "sites.csv").write_text(
            "\n".join([*sites, sites[1], "Q\x00,,", "9,=1+1"]) + "\n", encoding="utf-8"
        )
        (copy / "precincts.csv").write_text("id,site,site\n07,NOWHERE,x\n", encoding="utf-8")
        (copy / "unknown.csv").write_text("a,b\n", encoding="utf-8")
        (copy / "people.csv").unlink()
        notices = read_folder(copy).notices
    assert len({notice.rule for notice in notices}) >= 4
    for notice in notices:
        assert any(pattern.fullmatch(notice.rule) for pattern in listed), notice.rule
