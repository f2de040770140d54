"""The sample county and its pages, set once for all tests of packets."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import msgspec
import pypdfium2
import pytest

from pollstead.show.packet.codes import qr_svg
from pollstead.show.packet.content import Print
from pollstead.show.packet.typesetting import typesetter


def _load_sample() -> ModuleType:
    spec = importlib.util.spec_from_file_location("packet_sample", Path(__file__).with_name("sample.py"))
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def sample() -> ModuleType:
    """The invented county: its election, plan, sites and expected lists."""
    return _load_sample()


class Pages:
    """A print job, its PDF, and the text of each page with line ends as blanks."""

    def __init__(self, made: Print, data: bytes) -> None:
        self.made = made
        self.data = data
        self.document = pypdfium2.PdfDocument(data)
        self.texts = [_text(page) for page in self.document]

    def __len__(self) -> int:
        return len(self.document)

    @property
    def text(self) -> str:
        """The text of all pages."""
        return " ".join(self.texts)

    def of_kind(self, kind: object) -> list[str]:
        """The texts of the pages of all sheets of one kind."""
        serials = [sheet.serial for sheet in self.made.sheets if sheet.kind is kind]
        return [text for text in self.texts if any(f" {serial} " in text for serial in serials)]


def _text(page: pypdfium2.PdfPage) -> str:
    # U+FFFE stands for a hyphen at the end of a line.
    found = page.get_textpage().get_text_range().replace("\ufffe\r\n", "-").replace("\ufffe", "-")
    return f" {' '.join(found.split())} "


def _set(made: Print) -> Pages:
    """Set a print job in this process."""
    job = {
        "print": msgspec.to_builtins(made),
        "codes": {sheet.serial: qr_svg(sheet.serial) for sheet in made.sheets},
        "timestamp": made.timestamp,
    }
    with typesetter() as setter:
        return Pages(made, setter.pdf(job))


@pytest.fixture(scope="session")
def set_pages() -> Callable[[Print], Pages]:
    """The function that sets a print job in this process."""
    return _set


@pytest.fixture(scope="session")
def pages_of(sample: ModuleType) -> Callable[..., Pages]:
    """Pages of a sample site: ``pages_of("S01", language=…, what=…, large=…)``, each set once."""
    from pollstead.show.packet.packet import expected, packet

    kept: dict[tuple[object, ...], Pages] = {}

    def get(
        site: str, language: str = "en-US", what: str = "packet", *, large: bool = False, **changes: object
    ) -> Pages:
        key = (site, language, what, large, tuple(sorted(changes.items())))
        if key not in kept:
            election = sample.county(**changes)
            given = sample.given(site, election=election, language=language)
            made = packet(given, large=large) if what == "packet" else expected(given, large=large)
            assert made is not None
            kept[key] = _set(made)
        return kept[key]

    return get
