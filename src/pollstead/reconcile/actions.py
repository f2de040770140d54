"""What the county's rules say to do about a difference, and who decides.

The tool never decides: it prints the county's confirmed word, or "call the office" while nobody has
confirmed the rule.
"""

from __future__ import annotations

import enum

from pollstead.election.canonical import digest_of
from pollstead.election.notice import Notice
from pollstead.election.rules import BY_ID, CountyRules, RuleSetting
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.reconcile.observed import What
from pollstead.record.fold import Fold


class Act(enum.StrEnum):
    """The action words."""

    OUT_OF_SERVICE = "device out of service"
    RECORD_AND_GO_ON = "record and go on"
    CALL_THE_OFFICE = "call the office"
    READ_AGAIN = "read it again"


class Action(Value, frozen=True, kw_only=True):
    """What to do about a difference: the word, the rule it comes from, who decides, the sentence."""

    act: Act
    rule: str
    who_decides: str
    text: Message


RULE_OF = {
    What.SERIAL: "serial-differs",
    What.SEAL: "seal-differs",
    What.CLOCK: "clock-differs",
    What.COUNT: "counter-not-as-expected",
    What.REPORT: "counter-not-as-expected",
}
"""Which of the county's rules speaks about which sort of difference."""


def rule_digest(setting: RuleSetting) -> str:
    """The digest that a confirmation of a rule names: of the rule's id and its value."""
    return digest_of({"rule": setting.rule, "value": setting.value})


def is_confirmed(rules: CountyRules, rule: str, folded: Fold | None = None) -> bool:
    """Whether the county confirmed a rule, in its facts or by an event on the value that it has now."""
    setting = rules.setting(rule)
    if setting.confirmed_by.strip():
        return True
    fact = None if folded is None else folded.find("rules", "rule.confirmed", rule=rule)
    current = () if fact is None else fact.current
    return any(r.value.get("digest") in ("", rule_digest(setting)) for r in current)


def action_for(what: What, device: str, rules: CountyRules, folded: Fold | None = None) -> Action:
    """The county's word about a difference of this sort on `device` ("" where it is about no device)."""
    rule = RULE_OF.get(what, "")
    if not rule:
        return _call("", "election official")
    who = BY_ID[rule].who_decides
    if not is_confirmed(rules, rule, folded):
        return _call(rule, who)
    if rules.choice(rule) == Act.RECORD_AND_GO_ON.value:
        text = message(N_("Write the difference down and go on."))
        return Action(act=Act.RECORD_AND_GO_ON, rule=rule, who_decides=who, text=text)
    text = message(
        N_("{device} is out of service. The others go on. Call the support contact."),
        device=device or "This device",
    )
    return Action(act=Act.OUT_OF_SERVICE, rule=rule, who_decides=who, text=text)


def read_again(action: Action) -> Action:
    """The same rule, before anything is done: the other person reads it once more."""
    text = message(N_("Both people read it again from the thing itself; each types what is there."))
    return Action(act=Act.READ_AGAIN, rule=action.rule, who_decides=action.who_decides, text=text)


def _call(rule: str, who: str) -> Action:
    text = message(N_("Call the office: nobody has confirmed the county's rule for this."))
    return Action(act=Act.CALL_THE_OFFICE, rule=rule, who_decides=who, text=text)


def values_digest(notice: Notice) -> str:
    """The digest of the values that a notice was raised on; a resolution names it.

    When a value changes, so does the digest, and the notice is open again by itself.
    """
    return digest_of(list(notice.depends))


def resolution_of(notice: Notice, folded: Fold) -> str:
    """The coded word of the decision on exactly these values, or "" while the notice is open."""
    wanted = values_digest(notice)
    for fact in folded.named("notice"):
        if fact.key.get("notice_key") != notice.key:
            continue
        for reading in fact.current:
            if reading.value.get("digest") == wanted:
                word = reading.value.get("resolution")
                return word if isinstance(word, str) else ""
    return ""
