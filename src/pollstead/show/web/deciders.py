"""Who decides what a difference means and who may order a container opened, as the county's rules say it."""

from __future__ import annotations

from pollstead.election.rules import CountyRules, RuleLevel
from pollstead.election.values import Value
from pollstead.reconcile.counts.differences import BODY, who_decides

OPENS = "opens-containers"


class Deciders(Value, frozen=True, kw_only=True):
    """Two names. Of each whether it is our own wording, because the county's rule says nothing yet."""

    decides: str
    decides_assumed: bool
    opens: str
    opens_assumed: bool


def deciders(rules: CountyRules) -> Deciders:
    """Both names; our own are English and translated where they are shown."""
    return Deciders(
        decides=who_decides(rules),
        decides_assumed=rules.setting(BODY).level is RuleLevel.ASSUMED,
        opens=rules.text(OPENS),
        opens_assumed=rules.setting(OPENS).level is RuleLevel.ASSUMED,
    )
