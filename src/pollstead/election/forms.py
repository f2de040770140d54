"""The county's own forms as facts: on which line of which form a number of the balance is written."""

from __future__ import annotations

from pollstead.election.values import Value, require

COUNT_TERMS = (
    "ballots_received",
    "ballots_resupplied",
    "ballots_printed",
    "ballots_transferred_out",
    "ballots_unused",
    "ballots_spoiled",
    "ballots_fled",
    "ballots_damaged",
    "ballots_auxiliary",
    "ballots_held_apart",
    "ballots_in_box",
    "check_ins",
    "check_ins_added",
    "check_ins_cancelled",
    "ballots_issued",
    "ballots_reissued",
    "voters_left",
    "provisional_issued",
    "provisional_envelopes",
    "provisional_entries",
    "curbside_voters",
    "curbside_ballots",
    "provisional_voters",
    "keys_out",
    "keys_in",
    "credentials_out",
    "credentials_in",
    "phones_out",
    "phones_in",
    "tablets_out",
    "tablets_in",
    "memory_devices_out",
    "memory_devices_in",
    "public_counter_open",
    "public_counter_close",
    "lifetime_counter_open",
    "lifetime_counter_close",
    "report_count_close",
    "memory_count_close",
    "paper_in_box",
    "test_sheets",
    "style_count_open",
    "style_count_close",
)
"""The numbers of the balance by their ids; a test holds these equal to the terms that the balance reads."""

MOST_LETTERS = 60


class FormLine(Value, frozen=True, kw_only=True):
    """The number `term` is written on line `line` of the county's form `form`, as the county names both."""

    term: str
    form: str
    line: str

    def __post_init__(self) -> None:
        require(self.term in COUNT_TERMS, f"term must be one of {', '.join(COUNT_TERMS)}, got {self.term!r}")
        for name, text in (("form", self.form), ("line", self.line)):
            require(
                0 < len(text.strip()) <= MOST_LETTERS,
                f"{name} must have 1 to {MOST_LETTERS} characters, got {text!r}",
            )
