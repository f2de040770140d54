"""Which calls to play in an invented county: everybody says yes but at sites with open questions.

For invented counties and practice only. Pure: who is called is read from the facts, never from an id.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pollstead.record.kinds.calls import CallMade, CallPurpose, CallResult, PhoneCalled, WindowWord
from pollstead.work.calling import ToWrite

if TYPE_CHECKING:
    from pollstead.election.county import Election


def calls_to_play(election: Election, window: WindowWord = "evening") -> tuple[ToWrite, ...]:
    """One call to each opener and contact: nobody answers where the contact changed after the last word.

    Where the building is closed on the weekday of election day and no key was handed over, the contact
    says no. A person of several sites is called once for each part.
    """
    phones = {person.id: person.phone for person in election.people}
    access = {row.site: row for row in election.site_access}
    weekday = election.election_day.strftime("%A")
    made: list[ToWrite] = []
    for site in election.sites:
        row = access.get(site.id)
        changed = (
            row is not None
            and row.contact_since is not None
            and (row.openers_confirmed is None or row.openers_confirmed < row.contact_since)
        )
        closed = row is not None and weekday in row.closed_weekdays and row.key_hand_off is None
        for person in dict.fromkeys(site.openers):
            made.append(
                _call(
                    person,
                    "opener_confirm",
                    "no_answer" if changed else "answered_yes",
                    site.id,
                    phones,
                    window,
                )
            )
        if site.contact:
            result: CallResult = "answered_no" if closed else "no_answer" if changed else "answered_yes"
            made.append(_call(site.contact, "contact_confirm", result, site.id, phones, window))
    return tuple(made)


def _call(
    person: str,
    purpose: CallPurpose,
    result: CallResult,
    site: str,
    phones: dict[str, str],
    window: WindowWord,
) -> ToWrite:
    return ToWrite(
        body=CallMade(purpose=purpose, result=result, window=window, sites=(f"site/{site}",)),
        private=PhoneCalled(phone=phones.get(person, "")),
        subject=f"person/{person}",
    )
