"""What to ask in one sentence, and what either answer settles: the cheapest act for each open question."""

from __future__ import annotations

from pollstead.election.values import Value
from pollstead.election.words import N_


class Remedy(Value, frozen=True, kw_only=True):
    """One act: what to ask or do in one sentence, and what *yes* and *no* settle."""

    question: str
    ask: str
    yes: str
    no: str


def _r(question: str, ask: str, yes: str, no: str) -> Remedy:
    return Remedy(question=question, ask=ask, yes=yes, no=no)


_ALL = (
    _r(
        "opener-call",
        N_("Will you be at the door of {site} by {needed}, with the key that you have tried?"),
        N_("This way in is known good until the next window."),
        N_("This way in is known bad: find another person."),
    ),
    _r(
        "openers",
        N_("Who else can open {site} with another key and another phone?"),
        N_("Enter the person; then call that person too."),
        N_("There is one way in: send somebody of ours with a key."),
    ),
    _r(
        "lead-call",
        N_("Will you be at {site} at {needed}, and have you your papers?"),
        N_("The lead is known to come."),
        N_("Send the deputy or a reserve, and call them."),
    ),
    _r(
        "contact-call",
        N_("Will you answer this phone from five in the morning for {site}?"),
        N_("Somebody in the building answers."),
        N_("Ask for another phone, and call it."),
    ),
    _r(
        "crew",
        N_("How many people will be at {site} for the set-up?"),
        N_("Hands are enough."),
        N_("Send a reserve."),
    ),
    _r(
        "delivery",
        N_("Are cart and boxes of {site} in the right room, and locked?"),
        N_("Delivery is known good."),
        N_("A truck goes tonight, or first in the morning."),
    ),
    _r(
        "supplies",
        N_("Is every line of the packing list of {site} ticked?"),
        N_("Supplies are known good."),
        N_("Pack what lacks; a rover brings it."),
    ),
    _r(
        "tests",
        N_("Which devices of {site} are not tested yet, and when will they be?"),
        N_("Record each test by two people."),
        N_("Swap in a device that passed its test."),
    ),
    _r(
        "decks",
        N_("Which counting devices of {site} have no report over the test decks yet that matched?"),
        N_("Compare each report by two people."),
        N_("Tell the election official; swap in a device whose report matched."),
    ),
    _r(
        "seals",
        N_("Which seal numbers of {site} are not recorded yet?"),
        N_("Record them by two people."),
        N_("The devices stay until two people have read the numbers."),
    ),
    _r(
        "building-way-in",
        N_("What is agreed about the key and the way into {site} for the morning?"),
        N_("Write down who hands over what, where and when."),
        N_("Another way in is needed before tonight."),
    ),
    _r(
        "building-power",
        N_("Which circuits may we use at {site}, and who resets a breaker?"),
        N_("Power is known as the building's engineer says."),
        N_("Plan another outlet; a licensed electrician confirms."),
    ),
    _r(
        "building-room",
        N_("Is the room at {site} empty, heated, and the one that we measured?"),
        N_("The room is known good."),
        N_("Set up by the other plan, and tell the lead."),
    ),
    _r(
        "building-other",
        N_("What else happens at {site} that day, and where do people drive and park?"),
        N_("What is around the building is known."),
        N_("Tell lead and driver tonight."),
    ),
    _r(
        "expected-list",
        N_("Issue the expected list of {site}."),
        N_("The list can be compared."),
        N_("Nothing can be compared there."),
    ),
    _r(
        "packets",
        N_("Print the packet of {site} for this version, and take old sheets back."),
        N_("People have the right sheets."),
        N_("People start with old sheets."),
    ),
    _r(
        "plan-approved",
        N_("Approve the plan version by name."),
        N_("The plan is decided."),
        N_("Another version is wanted: make it now."),
    ),
    _r(
        "rules",
        N_("Ask the election official, and confirm the rules."),
        N_("Sites know what to do about a difference."),
        N_("Sites call the office for each difference."),
    ),
    _r(
        "devices",
        N_("Assign devices of {site}, or add their serials."),
        N_("Each device is known by its serial."),
        N_("Bring a spare."),
    ),
    _r(
        "hours",
        N_("Enter the hours of {site} for this day."),
        N_("Everybody knows when the doors open."),
        N_("Ask the election official."),
    ),
    _r(
        "accessible-station",
        N_("Plan another accessible voting station for {site}."),
        N_("As many as the county's rule wants."),
        N_("The ADA coordinator decides."),
    ),
    _r(
        "open-items",
        N_("Work through the open items of {site}."),
        N_("Each is decided by name."),
        N_("They stay open."),
    ),
    _r(
        "opening-comparison",
        N_("Ask {site} to read what is left; the other devices may go on."),
        N_("Everything was read."),
        N_("The device waits; call support."),
    ),
)
REMEDIES = {remedy.question: remedy for remedy in _ALL}
"""One cheapest act for each question; how many minutes it takes stands with the question's weight."""
