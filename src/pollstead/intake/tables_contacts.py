"""Tables about reaching people: who opens a building with which key, and weights of open questions."""

from __future__ import annotations

from pollstead.election.contacts import ReadyWeight, SiteContact
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
)
