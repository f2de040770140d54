"""Write every generated document again: words, catalogue, commands, notices."""

from __future__ import annotations

import county_folder_page
import extract_words
import list_commands
import list_notices
import make_catalogue


def main() -> None:
    """Write all; say how many words wait for a tag."""
    county_folder_page.main()
    make_catalogue.main()
    list_notices.main()
    list_commands.main()
    extract_words.main()
    waiting = [
        w
        for w, tag in extract_words.tags(extract_words.PAGE.read_text(encoding="utf-8")).items()
        if tag == "?"
    ]
    print(f"written: words, catalogue, commands, notices; {len(waiting)} words wait for a tag")
    for words in waiting:
        print(f"  {words}")


if __name__ == "__main__":
    main()
