"""Write the catalogue of texts to be translated, ``pollstead.pot``, without dates and line numbers."""

from __future__ import annotations

import functools
import io

from babel.messages.catalog import Catalog
from babel.messages.pofile import write_po

from found import PACKAGE
from from_code import catalogued_code, enum_texts
from from_tables import catalogued_data
from from_templates import catalogued_templates

PAGE = PACKAGE / "show" / "locale" / "pollstead.pot"


@functools.cache
def catalogue() -> Catalog:
    """Every text of pages, sheets, scripts, commands and shipped data, each once, sorted."""
    made = Catalog(project="Pollstead", version="", copyright_holder="the Pollstead authors", charset="utf-8")
    places: dict[str, set[str]] = {}
    for words, name in (*catalogued_code(), *catalogued_templates(), *catalogued_data()):
        places.setdefault(words, set()).add(name)
    for found in enum_texts():
        if "_" not in found.words:
            places.setdefault(found.words, set()).add(f"pollstead.{found.where}")
    for words in sorted(places):
        if words.strip():
            made.add(words, locations=[(name, 0) for name in sorted(places[words])])
    return made


def page() -> str:
    """The file as it should stand; a date in it would change without a reason."""
    out = io.BytesIO()
    write_po(out, catalogue(), width=100, sort_output=True, include_lineno=False)
    lines = out.getvalue().decode("utf-8").splitlines(keepends=True)
    dated = ('"POT-Creation-Date', '"PO-Revision-Date', '"Generated-By', '"Last-Translator', '"Language-Team')
    kept = [line for line in lines if not line.startswith(dated)]
    body = "".join(kept)
    start = body.index('msgid ""')
    return (
        "# Texts of Pollstead to be translated. Keep {fields} and tags as they are.\n"
        "# Made by ./run exec python docs/tools/make_all.py; not edited by hand.\n" + body[start:]
    )


def main() -> None:
    """Write the file."""
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text(page(), encoding="utf-8")


if __name__ == "__main__":
    main()
