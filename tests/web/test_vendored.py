"""Files of other projects are the files that they say they are, and nothing comes from outside."""

from __future__ import annotations

import hashlib
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
STATIC = ROOT / "src" / "pollstead" / "show" / "static"
FOLDERS = (STATIC / "vendor", ROOT / "tests" / "vendor" / "axe")


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_every_vendored_file_is_listed_with_its_digest(folder: Path) -> None:
    """Name, version, license and SHA-256 stand beside each file, and no file is there without them."""
    with (folder / "vendored.toml").open("rb") as stream:
        listed = tomllib.load(stream)["vendored"]
    digests = {name: digest for one in listed for name, digest in one["sha256"].items()}
    files = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()} - {"vendored.toml"}
    assert files == set(digests)
    for name, digest in digests.items():
        assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest, name
    for one in listed:
        assert one["name"] and one["version"] and one["license"] and one["source"]
        assert any("LICENSE" in name or "OFL" in name for name in one["sha256"]), one["name"]


def test_no_page_style_or_script_of_ours_names_another_host() -> None:
    """Templates, style sheet and scripts of ours hold no address outside the app."""
    ours = [*STATIC.glob("*.*"), *(ROOT / "src/pollstead/show/web/templates").glob("*.html")]
    assert len(ours) > 10
    allowed = {"http://www.w3.org/2000/svg"}
    for path in ours:
        found = set(
            re.findall(r"https?://[^\s\"'<>)]+|(?<=[\"'(=])//[a-z][^\s\"']+", path.read_text("utf-8"))
        )
        assert found <= allowed, f"{path.name}: {found - allowed}"


def test_no_template_holds_inline_style_or_script() -> None:
    """Nothing in a template needs the policy to allow inline code."""
    for path in (ROOT / "src/pollstead/show/web/templates").glob("*.html"):
        text = path.read_text("utf-8")
        assert not re.search(r"\sstyle\s*=|<style|\son[a-z]+=[\"']|javascript:", text), path.name
        assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", text)), path.name
