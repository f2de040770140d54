"""Words this project never says of people's work, seals, counts or rooms, and what it says instead.

A word is let through only inside one of its allowed phrases, each with its reason. Texts that users
see, and all documents, are held to this list by a test.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple


class Never(NamedTuple):
    """A word that is not used, what is said instead, and phrases in which it may stand."""

    pattern: str
    say: str
    allowed: tuple[str, ...] = ()


NEVER: tuple[Never, ...] = (
    Never(
        r"verif(?:y|ies|ied|ying|ication)",
        "matched",
        (
            r"record verify",
            r"verify\.py",
            r"RFC \d+ verif\w+",
            r"`verif\w+`",
        ),
    ),
    Never(
        r"prov(?:e[sd]?|en|ing)|proofs?",
        "compared; bound shown",
        (
            r"inclusion proofs?",
            r"consistency proofs?",
            r"keeps every proof",
            r"proof in RFC \d+",
            r"what it proves",
        ),
    ),
    Never(
        r"(?:un)?lawful(?:ly)?|(?:il)?legal(?:ly)?",
        "meets or does not meet the county's rule",
        (r"not legal advice",),
    ),
    Never(r"(?:in)?valid(?:ity|ate[sd]?|ation)?", "says which bound it met"),
    Never(r"compliant|compliance", "within the limits entered; … decides", (r"not ADA compliance",)),
    Never(
        r"safe(?:ly|ty)?",
        "within the limits entered",
        (
            r"not a safe limit",
            r"when all are safe",
        ),
    ),
    Never(r"tamper\w*", "a change can be detected"),
    Never(r"trustless|unforgeable|unhackable", "a change can be detected"),
    Never(r"fraud\w*", "difference"),
    Never(r"(?:lost|missing) (?:votes?|ballots?)", "difference of 1"),
    Never(r"all ballots (?:are )?accounted", "all equations are zero as entered at hh:mm"),
    Never(r"audit\w*", "check"),
    Never(r"recount\w*", "second reading"),
    Never(
        r"official(?:ly|s)?",
        "unofficial, staff use",
        (
            r"election officials?",
            r"fire official",
            r"not official returns",
        ),
    ),
    Never(
        r"certif\w+",
        "signed form; closing statement",
        (
            # The office key signs a certificate for each device's key; nothing else is certified here.
            r"device certificates?",
            r"certificates?(?: of| for)? (?:the |a )?(?:device|\{device\}|\{subject\})s?",
            r"certificate of this office",
            r"^certificate$",
            r"\{(?:device|subject)\} (?:is|was)(?: not)? certified",
        ),
    ),
    Never(r"final(?:ly)?", "unofficial"),
    Never(r"real[- ]time", "as of 20:41"),
    Never(r"live (?:views?|maps?|data|counts?|status|updates?|waits?|lines?)", "as of 20:41"),
    Never(r"anonym\w*", "no voter record is kept"),
    Never(r"optim(?:al|um|ally)", "best found, within x %"),
    Never(r"fastest", "n times the named library in the same run"),
    Never(r"no data (?:is )?(?:ever )?lost|no data loss", "none lost in N kill tests"),
    Never(
        r"100 ?% (?:accurate|secure|reliable)|guarantee[sd]?", "says what was measured", (r"not guaranteed",)
    ),
)


ABOUT_KEYS = {
    "docs/formats/record.md": (r"certif\w+", r"\bverif\w+"),
    "docs/decisions/0006-events-and-heads.md": (r"certificate",),
}
"""Documents that describe signatures and the keys of devices, and the words of that trade in them."""


_WORDS = tuple(
    (
        re.compile(rf"(?<![\w.-])(?:{never.pattern})(?!\w)", re.IGNORECASE),
        tuple(re.compile(phrase, re.IGNORECASE) for phrase in never.allowed),
        never.say,
    )
    for never in NEVER
)


def faults(text: str, also_allowed: tuple[str, ...] = ()) -> Iterator[tuple[str, str]]:
    """(words found, what to say instead) for each word of the list outside its allowed phrases."""
    also = tuple(re.compile(phrase, re.IGNORECASE) for phrase in also_allowed)
    for word, allowed, say in _WORDS:
        rest = text
        for phrase in (*allowed, *also):
            rest = phrase.sub(" ", rest)
        for found in word.finditer(rest):
            yield found[0], say


SPELLINGS = (
    (r"colour\w*", "color"),
    (r"grey\w*", "gray"),
    (r"cent(?:re|red)s?", "center"),
    (r"(?:milli|centi|kilo|micro)?metres?", "meter"),
    (r"licences?", "license"),
    (r"kerb\w*", "curb"),
    (r"model(?:led|ling)", "modeled, modeling"),
    (r"label(?:led|ling)", "labeled, labeling"),
    (r"travell(?:ed|ing|er)s?", "traveled, traveling"),
    (r"behaviour\w*|favour\w*|honour\w*|labour\w*|neighbour\w*", "-or"),
    (
        r"(?:organ|recogn|minim|maxim|optim|summar|real|synchron|general|normal)is(?:e|ed|es|ing|ation)",
        "-ize",
    ),
    (r"analys(?:e|ed|ing)", "analyze"),
    (r"programmes?", "program"),
    (r"cheques?", "check"),
    (r"whilst|amongst", "while, among"),
    (r"defence|offence", "defense, offense"),
    (r"judgement", "judgment"),
    (r"fulfil", "fulfill"),
)
"""Spellings of other countries; texts and documents are in US English."""


_FOREIGN = tuple(
    (re.compile(rf"(?<![\w.-])(?:{pattern})(?![\w])", re.IGNORECASE), us) for pattern, us in SPELLINGS
)


def foreign_spellings(text: str) -> Iterator[tuple[str, str]]:
    """(word found, US spelling) for each word spelled as elsewhere."""
    for word, us in _FOREIGN:
        for found in word.finditer(text):
            yield found[0], us
