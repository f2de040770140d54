"""The child process that sets pages: jobs come in as lines of JSON, one line goes out for each PDF.

The typesetter keeps all it has set in memory, so that it runs in a process of its own and that process
ends after some hundred pages. Started as ``python -m pollstead.show.packet.typesetting``.
"""

from __future__ import annotations

import contextlib
import importlib.resources
import json
import re
import signal
import sys
from pathlib import Path
from typing import Any, Final

STANDARD: Final = "ua-1"
"""PDF/UA-1 mode: a picture without words, a title missing or a letter without glyph stops the job."""


class Typesetter:
    """Sets print jobs with the fonts that ship with the program and none of the machine's."""

    def __init__(self, fonts: Path, templates: Path) -> None:
        import typst

        self._fonts = typst.Fonts(
            include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(fonts)]
        )
        self._template = templates / "packet.typ"
        self._root = templates

    def pdf(self, job: dict[str, Any]) -> bytes:
        """The PDF of one print job; the same bytes for the same job. Raises typst's error as it is."""
        import typst

        made, warnings = typst.compile_with_warnings(
            str(self._template),
            root=str(self._root),
            font_paths=self._fonts,
            sys_inputs={
                "job": json.dumps(job["print"], ensure_ascii=False),
                "codes": json.dumps(job["codes"]),
            },
            pdf_standards=[STANDARD],
            timestamp=job["timestamp"],
        )
        if warnings:
            # Page numbers that did not settle, a font not found: nobody should print that.
            raise RuntimeError("; ".join(str(warning) for warning in warnings))
        if not isinstance(made, bytes):
            raise TypeError(f"one PDF was wanted, got {type(made).__name__}")
        return made


@contextlib.contextmanager
def typesetter() -> Any:
    """A typesetter over the package's own fonts and templates, wherever the package is kept."""
    with contextlib.ExitStack() as stack:
        package = importlib.resources.files("pollstead.show")
        fonts = stack.enter_context(importlib.resources.as_file(package / "fonts"))
        templates = stack.enter_context(importlib.resources.as_file(package / "packet" / "templates"))
        yield Typesetter(fonts, templates)


def peak_memory_bytes() -> int:
    """The most memory that this process has held; 0 where the system does not tell."""
    try:
        import resource
    except ImportError:
        return 0
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak if sys.platform == "darwin" else peak * 1024


def part_of(output: Path) -> Path:
    """Where a file stands while it is being written."""
    return output.with_name(output.name + ".part")


def write_whole(output: Path, made: bytes) -> None:
    """Write a file whole or not at all; raises OSError, and nothing half written is left then."""
    part = part_of(output)
    try:
        part.write_bytes(made)
        part.replace(output)
    except OSError:
        part.unlink(missing_ok=True)
        raise


def main() -> None:
    """Set every job that comes in, write its PDF whole or not at all, and answer with pages or error."""
    # Ctrl-C belongs to the parent, which ends this process itself.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    with typesetter() as setter:
        for line in sys.stdin:
            job = json.loads(line)
            answer: dict[str, Any] = {"output": job["output"]}
            try:
                made = setter.pdf(job)
            except RuntimeError as error:
                answer["error"] = str(error)
            else:
                try:
                    write_whole(Path(job["output"]), made)
                except OSError as error:
                    answer["not_written"] = error.strerror or type(error).__name__
                answer["bytes"] = len(made)
                answer["pages"] = page_count(made)
            answer["peak"] = peak_memory_bytes()
            print(json.dumps(answer), flush=True)


def page_count(pdf: bytes) -> int:
    """Pages of a PDF that this typesetter made: the count at the root of its page tree."""
    counts = [int(count) for count in re.findall(rb"/Type\s*/Pages[^>]*?/Count\s+(\d+)", pdf)]
    if not counts:
        raise ValueError("the PDF has no page tree that can be read without unpacking it")
    return max(counts)


if __name__ == "__main__":
    main()
