"""The tables of the ballots: contests, choices, and what each style holds. All may be left out."""

from __future__ import annotations

from pollstead.election.ballots import BallotContest, Choice, Contest
from pollstead.election.words import N_
from pollstead.intake.columns import Table, table_of

_OFFICIAL = N_("election official")

TABLES_OF_BALLOTS: tuple[Table, ...] = (
    table_of(
        "contests",
        Contest,
        N_("One row for each contest or question on any ballot."),
        {
            "id": N_("Short name of the contest, never used again for another"),
            "words": N_("Its title as it stands on the ballot"),
            "vote_for": N_("The most choices one ballot may mark in it; blank means 1"),
            "write_in_lines": N_("How many write-in lines stand below its choices; blank means 0"),
        },
        ids=("id",),
        owner=_OFFICIAL,
    ),
    table_of(
        "choices",
        Choice,
        N_("One row for each choice of a contest."),
        {
            "contest": N_("Contest, an id from contests.csv"),
            "id": N_("Short name of the choice within its contest"),
            "order": N_("Its place from the top, where the list is not rotated"),
            "words": N_("The choice as it stands on the ballot"),
        },
        ids=("contest", "id"),
        owner=_OFFICIAL,
    ),
    table_of(
        "ballot_contests",
        BallotContest,
        N_("One row for each contest of each ballot style."),
        {
            "style": N_("Ballot style, as precincts.csv names it"),
            "precinct": N_(
                "Precinct, where its ballots of this style have their own order; blank for all others"
            ),
            "contest": N_("Contest, an id from contests.csv"),
            "order": N_("Its place on the ballot from the front"),
            "rotation": N_("How many choices go from the top of the list to its end; blank means 0"),
        },
        ids=("style", "precinct", "contest"),
        owner=_OFFICIAL,
    ),
)
