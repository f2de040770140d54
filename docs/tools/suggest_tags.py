"""Suggest tags in docs/words.md for words that wait for one; a person reads them before a commit."""

from __future__ import annotations

import re

import extract_words

OURS = re.compile(
    r"expected list|station type|county rule|plan version|open item|differences?\b|notice|snapshot|assum"
    r"|packet|stage\b|root\b|seed|effort|jobs?\b|event\b|simulat|look.?alike|redact|certificate|\{file\}"
    r"|mapping"
)
EVENT = re.compile(r"[a-z_]+\.[a-z_]+")
STANDARDS = (
    (
        re.compile(
            r"ballot|vote centers?|voting stations?|polling place|precincts?|spoil|provisional|election day"
            r"|early voting|in[- ]person|election official|\bvoters?\b|\bcast\b|\belection\b"
        ),
        "standard (VVSG)",
    ),
    (re.compile(r"door_clear|door clear|accessible route"), "standard (ADA 404)"),
)
TRADE = re.compile(
    r"\bsites?\b|check[- ]?in|scanner|auxiliary bin|seals?\b|closures?\b|serials?\b|\btags?\b"
    r"|zero report|clos(e|ing) report|counters?\b|memory[ _-]device|privacy|booth|curbside|fled|list\b"
    r"|run sheet|packing|opening|closing|opens\b|closes\b|balance|custod|carts?\b|receiv|spares?|fleet"
    r"|suppl|contact|outlets?|cords?\b|language|traffic cone|signs?\b|sticker|credential|registered"
    r"|lines?\b|waiting|waits?\b|on-demand|envelope|headset|roster|tally|witness|initials|set[- _]?up"
    r"|surge|phone|out of service|coordinator|equipment manager|poll worker|overnight|transfer|box\b"
    r"|evening before|after test|ticked|recorded|independent|carried over|unpack|opened|closed|county\b"
    r"|office\b|devices?\b|marking pen|roll\b|panel|reconcil|damaged|printer|openers|lid\b|latch"
    r"|stations?\b|cover page|evacuation|breaker|ramp|loading|route sheet|calendar|survey|law\b"
    r"|directive|policy"
)


def suggested(words: str) -> str:
    """A tag by the terms that stand in the words."""
    plain = words.replace("\\*", "*").replace("&lt;", "<").lower()
    spaced = plain.replace("_", " ")
    if OURS.search(spaced) or (EVENT.fullmatch(plain) and not plain.endswith((".csv", ".toml"))):
        return "ours"
    for pattern, tag in STANDARDS:
        if pattern.search(plain) or pattern.search(spaced):
            return tag
    return "trade" if TRADE.search(spaced) else "ours"


def main() -> None:
    """Put a suggestion in the place of every ``?`` and print it."""
    page = extract_words.PAGE.read_text(encoding="utf-8")
    for words, tag in extract_words.tags(page).items():
        if tag == "?":
            print(f"{suggested(words):<20} {words}")
    page = extract_words.ROW.sub(
        lambda m: f"| {m[1]} | {m[2]} | {suggested(m[1])} |" if m[3] == "?" else m[0], page
    )
    extract_words.PAGE.write_text(page, encoding="utf-8")


if __name__ == "__main__":
    main()
