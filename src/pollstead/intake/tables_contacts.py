"""Tables about reaching people, and a county's guesses: weights of open questions, costs of errors."""

from __future__ import annotations

from pollstead.election.contacts import ReadyWeight, SiteContact
from pollstead.election.fault_odds import FaultOdds
from pollstead.election.next_acts import ActCost
from pollstead.election.reading_errors import ReadingError
from pollstead.election.words import N_
from pollstead.intake.columns import Table, table_of

TABLES_OF_CONTACTS: tuple[Table, ...] = (
    table_of(
        "site_contacts",
        SiteContact,
        N_("People of each building: who opens with which key, who else answers, and when."),
        {
            "site": N_("Site id"),
            "person": N_("Person, an id from people.csv"),
            "part": N_("opener, contact, backup contact or custodian"),
            "key": N_("Tag of the key that this person holds; never a code or a PIN"),
            "other_phone": N_("A second phone of this person"),
            "from_min": N_("Time from which this person can be reached"),
            "to_min": N_("Time until which this person can be reached"),
        },
        ids=("site", "person"),
        owner=N_("site coordinator"),
    ),
    table_of(
        "ready_weights",
        ReadyWeight,
        N_("Your own guesses for Ready to open?, in place of those that come with the program."),
        {
            "question": N_("Question, such as opener-call; the guide Ready to open lists them"),
            "good_ppm": N_("Share of sites that open late although it is known to be good"),
            "old_ppm": N_("Share where what is known is old"),
            "unknown_ppm": N_("Share where nothing is known"),
            "bad_ppm": N_("Share where it is known to be bad"),
            "minutes": N_("Minutes that the cheapest act takes"),
            "why": N_("Why you think so"),
        },
        owner=N_("election official"),
    ),
    table_of(
        "reading_errors",
        ReadingError,
        N_("Your own costs of reading and typing errors, in place of those that come with the program."),
        {
            "kind": N_("What the cost is of, such as dropped; the page on reading errors lists them"),
            "from_": N_("The expected character, for one pair of a substitution; else blank"),
            "to": N_("The character read in its place, for one pair of a substitution; else blank"),
            "cost_millinats": N_(
                "Thousandths of minus the natural logarithm of the share: 6900 is 1 in 1,000"
            ),
        },
        owner=N_("election official"),
    ),
    table_of(
        "fault_odds",
        FaultOdds,
        N_("Your own odds of what may stand behind a difference, in place of those of the program."),
        {
            "kind": N_("What may have happened, such as spoiled not logged; see the page on explanations"),
            "per_million": N_("How often in a million chances; a chance is one number, device or site"),
            "more_per_thousand": N_(
                "How often in a thousand one more follows, where it has a size; else blank"
            ),
            "jam_per_million": N_("How often in a million where a jam record leaves it open; else blank"),
            "source": N_("Where the odds come from"),
        },
        owner=N_("election official"),
    ),
    table_of(
        "next_acts",
        ActCost,
        N_("How much it disturbs to look at a number again, in place of what comes with the program."),
        {
            "act": N_("Act, such as look at the screen again; the page on explanations lists them"),
            "intrusiveness": N_("Minutes of two people, or any number in the same proportions"),
        },
        owner=N_("election official"),
    ),
)
