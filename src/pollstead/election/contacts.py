"""People of a building and how to reach them; and what a county thinks of each question before opening."""

from __future__ import annotations

from pollstead.election.identity import require_part
from pollstead.election.values import Value, require

CONTACT_PARTS = ("opener", "contact", "backup contact", "custodian")
"""What a row of ``site_contacts.csv`` can say of a person at a building."""

QUESTIONS = (
    "opener-call",
    "openers",
    "lead-call",
    "contact-call",
    "crew",
    "delivery",
    "devices",
    "tests",
    "decks",
    "expected-list",
    "seals",
    "packets",
    "supplies",
    "building-way-in",
    "building-power",
    "building-room",
    "building-other",
    "hours",
    "accessible-station",
    "plan-approved",
    "rules",
    "open-items",
    "opening-comparison",
)
"""Every question that *Ready to open?* asks of a site; a county's weights name them."""

MILLION = 1_000_000


class SiteContact(Value, frozen=True, kw_only=True):
    """A person of a building: the key they hold, another phone, from when to when they can be reached.

    `key` is the tag of the key, such as K-14; never a code or a PIN. The times are of the evening before
    and the morning, on the wall clock. People who are in no row here are known by ``sites.csv`` alone.
    """

    site: str
    person: str
    part: str = "opener"
    key: str = ""
    other_phone: str = ""
    from_min: int | None = None
    to_min: int | None = None

    def __post_init__(self) -> None:
        require_part(self.person, "a person's id")
        require(
            self.part in CONTACT_PARTS, f"part must be one of {', '.join(CONTACT_PARTS)}, got {self.part!r}"
        )
        if self.from_min is not None and self.to_min is not None:
            require(
                self.from_min <= self.to_min,
                f"from must not be after to, got {self.from_min}, {self.to_min}",
            )


class ReadyWeight(Value, frozen=True, kw_only=True):
    """A county's own guess of how often a site opens late because of one question, in parts per million.

    One guess for each state of the question: known good, known good but old, not known, known bad. They
    may not fall in that order, since evidence never makes a site look worse. `minutes` is the work of the
    cheapest act that settles the question.
    """

    question: str
    good_ppm: int
    old_ppm: int
    unknown_ppm: int
    bad_ppm: int
    minutes: int = 5
    why: str = ""

    def __post_init__(self) -> None:
        require(
            self.question in QUESTIONS,
            f"question must be one of {', '.join(QUESTIONS)}, got {self.question!r}",
        )
        require(
            0 <= self.good_ppm <= self.old_ppm <= self.unknown_ppm <= self.bad_ppm <= MILLION,
            f"{self.question}: the shares must not fall from good over old and unknown to bad, and stay "
            f"within 0 and 100 %, got {self.good_ppm}, {self.old_ppm}, {self.unknown_ppm}, "
            f"{self.bad_ppm} ppm",
        )
        require(self.minutes >= 0, f"{self.question}: minutes must be >= 0, got {self.minutes}")
