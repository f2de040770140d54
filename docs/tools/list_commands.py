"""Write docs/commands.md from the command line itself."""

from __future__ import annotations

import re
import sys

from found import DOCS, MAKE
from from_commands import app

PAGE = DOCS / "commands.md"
HEAD = f"""# Commands

Generated from the command line by `{MAKE}`; a test holds this page to it.

In a checkout, `./run exec pollstead …` runs any of these in the environment that `./run` made. Every command
takes `--language TAG`; texts without a translation stay English.

Exit codes: **0** done. Open items, assumptions, differences and rules not met are printed and never change
the code. **1** something that was asked for could not be done: a table that cannot be read, a contradiction,
a record that does not check. **2** the command was not written as it should be.

"""


def page() -> str:
    """The page as it should stand."""
    # The library puts the name of the running program into some usage lines; here that is no part of them.
    program, main_spec = sys.argv[0], sys.modules["__main__"].__spec__
    sys.argv[0], sys.modules["__main__"].__spec__ = "pollstead", None
    try:
        told = app().generate_docs(heading_level=2)
    finally:
        sys.argv[0], sys.modules["__main__"].__spec__ = program, main_spec
    # The list of commands above each group repeats the headings below it.
    told = re.sub(r"\n## Table of Contents\n.*?(?=\n\*\*|\n## )", "\n", told, count=1, flags=re.DOTALL)
    return HEAD + re.sub(r"\n{3,}", "\n\n", told).strip() + "\n"


def main() -> None:
    """Write the page."""
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
