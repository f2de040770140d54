"""Something about a folder or a copy could not be done, said in words that are translated later."""

from __future__ import annotations

from pollstead.election.words import Message, message


class Refusal(ValueError):
    """What could not be done and what to do next; `more` names each single thing that was found."""

    def __init__(self, said: Message, more: tuple[Message, ...] = ()) -> None:
        super().__init__("\n".join(one.english() for one in (said, *more)))
        self.said = said
        self.more = more


def refusal(template: str, **params: int | str) -> Refusal:
    """Make a `Refusal` of one sentence."""
    return Refusal(message(template, **params))
