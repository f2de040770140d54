"""Sites that are not planned, and why: each is named by an open item."""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.election.identity import make_id
from pollstead.election.notice import Grade, Notice, NoticeKind
from pollstead.election.words import N_, message
from pollstead.plan import inputs
from pollstead.plan.terms.demand import DemandDraws
from pollstead.plan.terms.lines import MOST_VOTERS
from pollstead.plan.terms.version import Told


def by_facts(election: Election, kinds: dict[str, str], told: Told) -> tuple[set[str], list[Notice]]:
    """Sites on which a contradiction bears, or of which no kind is known."""
    contradicted = {
        notice.subject.removeprefix("site/")
        for notice in told.notices
        if notice.grade is Grade.CONTRADICTS and notice.subject.startswith("site/")
    }
    every = "*" in told.leave_out
    found: set[str] = set()
    notices = []
    for site in election.sites:
        why = ""
        if every or site.id in contradicted or site.id in told.leave_out:
            why = N_("{site} is not planned because facts about it contradict one another.")
        elif not kinds[site.id]:
            why = N_("{site} is not planned because no kind of site is described.")
        if why:
            found.add(site.id)
            notices.append(
                Notice(
                    kind=NoticeKind.OPEN_ITEM,
                    rule="site-not-planned",
                    subject=make_id("site", site.id),
                    text=message(why, site=site.name),
                    remedy=message(N_("Correct the facts that the faults name, then plan again.")),
                    depends=(why,),
                )
            )
    return found, notices


def by_crowd(election: Election, draws: DemandDraws) -> tuple[tuple[str, ...], list[Notice]]:
    """Sites with more voters in a day than can be simulated."""
    crowded = inputs.too_many_voters(draws)
    return crowded, [
        Notice(
            kind=NoticeKind.OPEN_ITEM,
            rule="site-not-planned",
            subject=make_id("site", site),
            text=message(
                N_("{site} is not planned: more than {most} voters in one day come out of its facts."),
                site=election.site(site).name,
                most=MOST_VOTERS,
            ),
            remedy=message(N_("Look at registered and expected voters of this site.")),
            depends=("voters",),
        )
        for site in crowded
    ]
