"""Set an office book in a child process: the typesetter keeps all it has set, and the child ends."""

from __future__ import annotations

import contextlib
import importlib.resources
import json
import subprocess
import sys
from typing import Any

import msgspec

from pollstead.election.words import N_, message
from pollstead.show.book.content import Book
from pollstead.show.fonts import missing, named
from pollstead.show.packet.setting import PrintFailed
from pollstead.show.packet.typesetting import STANDARD


def book_pdf(book: Book) -> bytes:
    """The PDF of a book, the same bytes for the same book.

    Raises `PrintFailed` naming letters that no font here holds, or what the typesetter said.
    """
    job = msgspec.to_builtins(book)
    lacking = missing("".join(_texts(job)))
    if lacking:
        raise PrintFailed(
            message(
                N_("The office book was not made: no font here has the letters {letters}."),
                letters=named(lacking),
            )
        )
    done = subprocess.run(
        [sys.executable, "-m", "pollstead.show.book.setting"],
        input=json.dumps(job).encode("ascii"),
        capture_output=True,
        check=False,
    )
    if done.returncode != 0 or not done.stdout.startswith(b"%PDF"):
        why = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise PrintFailed(
            message(N_("The office book was not made: {why}"), why=why[-1] if why else str(done.returncode))
        )
    return done.stdout


def _texts(node: Any) -> list[str]:
    if isinstance(node, str):
        return [node]
    if isinstance(node, dict):
        return [text for value in node.values() for text in _texts(value)]
    return [text for value in node for text in _texts(value)] if isinstance(node, list | tuple) else []


def _set(job: dict[str, Any]) -> bytes:
    import typst

    with contextlib.ExitStack() as stack:
        package = importlib.resources.files("pollstead.show")
        fonts = stack.enter_context(importlib.resources.as_file(package / "fonts"))
        templates = stack.enter_context(importlib.resources.as_file(package / "book" / "templates"))
        made, warnings = typst.compile_with_warnings(
            str(templates / "book.typ"),
            root=str(templates),
            font_paths=typst.Fonts(
                include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(fonts)]
            ),
            sys_inputs={"book": json.dumps(job, ensure_ascii=False)},
            pdf_standards=[STANDARD],
            timestamp=job["timestamp"],
        )
    if warnings or not isinstance(made, bytes):
        raise RuntimeError("; ".join(str(warning) for warning in warnings) or "no PDF came out")
    return made


if __name__ == "__main__":
    sys.stdout.buffer.write(_set(json.loads(sys.stdin.buffer.read())))
