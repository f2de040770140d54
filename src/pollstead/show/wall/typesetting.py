"""The child process that sets calendar paper: one job comes in as JSON, one PDF goes out.

The typesetter keeps all it has set in memory, so that it runs in a process of its own. Started as
``python -m pollstead.show.wall.typesetting``.
"""

from __future__ import annotations

import importlib.resources
import json
import subprocess
import sys
from typing import Any

from pollstead.show.packet.typesetting import STANDARD

LONGEST_S = 120


class NotSet(RuntimeError):
    """The paper could not be set; the message is the typesetter's own."""


def set_pdf(job: dict[str, Any], timestamp: int) -> bytes:
    """The PDF of a job in a process of its own; the same bytes for the same job. Raises NotSet."""
    made = subprocess.run(  # noqa: S603 - our own module in our own interpreter
        [sys.executable, "-m", "pollstead.show.wall.typesetting", str(timestamp)],
        input=json.dumps(job, ensure_ascii=False).encode("utf-8"),
        capture_output=True,
        timeout=LONGEST_S,
        check=False,
    )
    if made.returncode or not made.stdout.startswith(b"%PDF"):
        raise NotSet(made.stderr.decode("utf-8", "replace").strip()[-800:] or "the typesetter gave no PDF")
    return made.stdout


def main() -> None:
    """Set the job of standard input and write the PDF to standard output; complain on standard error."""
    import typst

    job = sys.stdin.buffer.read().decode("utf-8")
    package = importlib.resources.files("pollstead.show")
    with (
        importlib.resources.as_file(package / "fonts") as fonts,
        importlib.resources.as_file(package / "wall" / "templates") as templates,
    ):
        own = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(fonts)])
        made, warnings = typst.compile_with_warnings(
            str(templates / "calendar.typ"),
            root=str(templates),
            font_paths=own,
            sys_inputs={"job": job},
            pdf_standards=[STANDARD],
            timestamp=int(sys.argv[1]),
        )
    if warnings:
        sys.exit("; ".join(str(warning) for warning in warnings))
    if isinstance(made, bytes):
        sys.stdout.buffer.write(made)


if __name__ == "__main__":
    main()
