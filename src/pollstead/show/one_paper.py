"""Set one paper in a child process that ends: the typesetter keeps all it has set, and the child ends.

For papers of a few pages, one at a time; packets have a process of their own that sets many
(`pollstead.show.packet.setting`). The child is started as ``python -m pollstead.show.one_paper``.
"""

from __future__ import annotations

import contextlib
import importlib.resources
import json
import subprocess
import sys
from typing import Any, NamedTuple

from pollstead.election.words import N_, message
from pollstead.show.fonts import missing, named
from pollstead.show.packet.setting import PrintFailed
from pollstead.show.packet.typesetting import STANDARD

NOT_PRINTED = N_("Not printed: {why}")
NO_FONT = N_("Not printed: no font here has the letters {letters}.")


class Template(NamedTuple):
    """A template of the package: part of `pollstead.show`, file, the name by which it reads the job."""

    part: str
    file: str
    given: str


class NotSet(RuntimeError):
    """The paper could not be set; the message is the typesetter's own."""


def set_paper(
    template: Template, job: dict[str, Any], timestamp: int, longest_s: float | None = None
) -> bytes:
    """The PDF of a job, the same bytes for the same job. Raises NotSet; TimeoutExpired after `longest_s`."""
    done = subprocess.run(  # noqa: S603 - our own module in our own interpreter
        [sys.executable, "-m", "pollstead.show.one_paper", *template, str(timestamp)],
        input=json.dumps(job).encode("ascii"),
        capture_output=True,
        timeout=longest_s,
        check=False,
    )
    if done.returncode != 0 or not done.stdout.startswith(b"%PDF"):
        why = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise NotSet(why[-1] if why else str(done.returncode))
    return done.stdout


def paper_or_refusal(
    template: Template, job: dict[str, Any], *, no_font: str = NO_FONT, not_made: str = NOT_PRINTED
) -> bytes:
    """As `set_paper`, with the job's own timestamp; raises `PrintFailed` in words that a person can act on.

    Letters that no font here holds are named before anything is set.
    """
    lacking = missing(json.dumps(job, ensure_ascii=False))
    if lacking:
        raise PrintFailed(message(no_font, letters=named(lacking)))
    try:
        return set_paper(template, job, int(job["timestamp"]))
    except NotSet as error:
        raise PrintFailed(message(not_made, why=str(error))) from error


def main() -> None:
    """Set the job of standard input and write the PDF to standard output; complain on standard error."""
    import typst

    template = Template(*sys.argv[1:4])
    job = json.loads(sys.stdin.buffer.read())
    with contextlib.ExitStack() as stack:
        package = importlib.resources.files("pollstead.show")
        fonts = stack.enter_context(importlib.resources.as_file(package / "fonts"))
        templates = stack.enter_context(importlib.resources.as_file(package / template.part / "templates"))
        made, warnings = typst.compile_with_warnings(
            str(templates / template.file),
            root=str(templates),
            font_paths=typst.Fonts(
                include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(fonts)]
            ),
            sys_inputs={template.given: json.dumps(job, ensure_ascii=False)},
            pdf_standards=[STANDARD],
            timestamp=int(sys.argv[4]),
        )
    if warnings or not isinstance(made, bytes):
        # Page numbers that did not settle, a font not found: nobody should print that.
        raise RuntimeError("; ".join(str(warning) for warning in warnings) or "no PDF came out")
    sys.stdout.buffer.write(made)


if __name__ == "__main__":
    main()
