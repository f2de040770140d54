"""What can be wrong with a record, as values: which event, which device, what."""

from __future__ import annotations

import enum

from pollstead.election.notice import Grade, Notice, NoticeKind
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message


class Problem(enum.StrEnum):
    """The ways in which a record can fail to check."""

    NOT_AN_EVENT = "not_an_event"
    ID = "id"
    DOUBLED = "doubled"
    ORDER = "order"
    SIGNATURE = "signature"
    UNKNOWN_DEVICE = "unknown_device"
    CERTIFICATE = "certificate"
    TWO_KEYS = "two_keys"
    OUT_OF_TIME = "out_of_time"
    OUT_OF_SCOPE = "out_of_scope"
    OFFICE_ONLY = "office_only"
    REVOKED = "revoked"
    PRACTICE = "practice"
    GAP = "gap"
    FORK = "fork"
    BROKEN_CHAIN = "broken_chain"
    PRIVATE = "private"
    UNREADABLE = "unreadable"
    HEAD = "head"


class Trouble(Value, frozen=True):
    """One problem: its sort, the event and device it is about (empty when none), and the words.

    `seq` is the place in the store or file, from 1; 0 when the problem is not about one place.
    """

    problem: Problem
    text: Message
    event: str = ""
    device: str = ""
    n: int = 0
    seq: int = 0

    def english(self) -> str:
        """The problem in one line."""
        return self.text.english()

    def to_notice(self) -> Notice:
        """The problem as a notice of kind fault."""
        subject = f"event/{self.event}" if self.event else (self.device or "record")
        return Notice(
            kind=NoticeKind.FAULT,
            grade=Grade.CONTRADICTS,
            rule=f"record.{self.problem}",
            subject=subject,
            text=self.text,
            remedy=message(N_("Compare with another copy of the record, and keep both.")),
        )


def trouble(
    problem: Problem,
    template: str,
    *,
    event: str = "",
    device: str = "",
    n: int = 0,
    seq: int = 0,
    **params: int | str,
) -> Trouble:
    """Make a `Trouble`; `event`, `device`, `n` and `seq` are parameters of the words too."""
    where: dict[str, int | str] = {"event": event[:12], "device": device, "n": n, "seq": seq}
    return Trouble(
        problem=problem,
        text=message(template, **{**where, **params}),
        event=event,
        device=device,
        n=n,
        seq=seq,
    )
