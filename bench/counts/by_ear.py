"""Copying errors of the second generator: numbers said aloud, written down and added up in the head.

A different idea of copying than slips of eye and hand: what sounds alike is confused, any two digits may
come in the wrong order, sums go wrong by one in a higher place. All shares are our own guess; no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bench.counts.site_days import SiteDay

ANOTHER_SITE = "line of another site's form"
WAYS: Mapping[str, float] = {
    "heard as another": 5,
    "carried wrong": 4,
    "digits in another order": 4,
    "cut off": 3,
    "run on": 2,
    "another digit at a glance": 6,
    "another line of the block": 3,
    ANOTHER_SITE: 2,
}
SOUND_ALIKE = {"5": "9", "9": "5"}
TEENS = {ten + unit: unit + "0" for ten in "1" for unit in "3456789"}


def heard(
    way: str,
    day: SiteDay,
    form: Mapping[str, int],
    key: str,
    elsewhere: Mapping[str, Mapping[str, int]],
) -> Iterator[tuple[int, float]]:
    """Numbers that may be written for the number of `key`, with weights; the number itself among them.

    `elsewhere` are the numbers of the other sites; a device has no other site's.
    """
    was, digits = form[key], str(form[key])
    if way == "heard as another":
        for place, digit in enumerate(digits):
            if digit in SOUND_ALIKE:
                yield int(digits[:place] + SOUND_ALIKE[digit] + digits[place + 1 :]), 1.0
        tail = digits[-2:]
        for teen, ty in TEENS.items():
            if tail in (teen, ty):
                yield int(digits[:-2] + (ty if tail == teen else teen)), 2.0
    elif way == "carried wrong":
        for step in (10, 100, 1_000):
            if was > step:
                yield was + step, 1.0
                yield was - step, 1.0
    elif way == "digits in another order":
        for one in range(len(digits)):
            for other in range(one + 1, len(digits)):
                swapped = list(digits)
                swapped[one], swapped[other] = swapped[other], swapped[one]
                yield int("".join(swapped)), 1.0 if other == one + 1 else 0.3
    elif way == "cut off" and len(digits) > 1:
        yield int(digits[:-1]), 2.0
        yield int(digits[1:]), 1.0
    elif way == "run on":
        for digit in "0123456789":
            yield int(digits + digit), 2.0 if digit == "0" else 1.0
    elif way == "another digit at a glance":
        for place, digit in enumerate(digits):
            for other in "0123456789":
                if other != digit:
                    yield int(digits[:place] + other + digits[place + 1 :]), 1 / abs(int(other) - int(digit))
    elif way == ANOTHER_SITE:
        for numbers in elsewhere.values():
            if "@" not in key and key in numbers:
                yield numbers[key], 1.0
    elif way == "another line of the block":
        block = key.partition("@")[2]
        for other in day.keys:
            if other != key and other.partition("@")[2] == block and "/" not in other.partition("@")[0]:
                yield form[other], 1.0


def copied(day: SiteDay) -> tuple[str, ...]:
    """The numbers that somebody says aloud: all but those of a machine or a day before."""
    return tuple(
        key
        for key in day.keys
        if "/" not in key.partition("@")[0] and not key.startswith("memory_count_close")
    )
