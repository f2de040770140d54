"""What can be written down on the page of orders: an order, what a site read back, an undo."""

from __future__ import annotations

import re
from typing import Final, Literal

from pollstead.election.words import N_, message
from pollstead.reconcile.happening.orders import next_number, subject_of
from pollstead.record.kinds.incidents import Told
from pollstead.record.kinds.orders import OrderAcknowledged, OrderGiven
from pollstead.show.web.happening_view import Happening, typed_minute
from pollstead.show.web.pages.frame import Ask, Trouble
from pollstead.show.web.pages.taking_back import take_back
from pollstead.show.web.typed import Wrong

Does = Literal["extend_hours", "relocate", "suspend", "resume", "set_apart", "stay", "other"]
By = Literal["court", "election_official", "board", "state_office", "emergency_official", "other"]
Apart = Literal["no", "provisional", "held_apart"]
DOES: Final[dict[Does, str]] = {
    "extend_hours": N_("hours are extended"),
    "relocate": N_("voting moves to another place"),
    "suspend": N_("voting is suspended"),
    "resume": N_("voting goes on again"),
    "set_apart": N_("ballots are held apart"),
    "stay": N_("an earlier order is stayed"),
    "other": N_("something else"),
}
BY: Final[dict[By, str]] = {
    "court": N_("a court"),
    "election_official": N_("the election official"),
    "board": N_("the county's election board"),
    "state_office": N_("the state's election office"),
    "emergency_official": N_("police, fire or emergency services"),
    "other": N_("somebody else"),
}
APART: Final[dict[Apart, str]] = {
    "no": N_("no class of their own"),
    "provisional": N_("provisional ballots"),
    "held_apart": N_("held apart, in no counter"),
}
FIELDS: Final = (
    "does",
    "by",
    "source",
    "sites",
    "from",
    "until",
    "place",
    "apart",
    "supersedes",
    "words",
    "caller",
)
SOURCE = re.compile(r"[A-Za-z0-9][A-Za-z0-9 .,:;/()_-]{0,119}")
PLACE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")


def take_order(ask: Ask, happening: Happening) -> tuple[Wrong, ...] | str:
    """Write an order down; gives the event, or what needs another look."""
    form, faults = ask.form, []
    does: Does | None = next((key for key in DOES if key == form.text("does")), None)
    by: By | None = next((key for key in BY if key == form.text("by")), None)
    apart: Apart = next((key for key in APART if key == form.text("apart")), "no")
    source, place = form.text("source"), form.text("place").replace(" ", "-")
    if does is None:
        faults.append(Wrong(field="does", words=message(N_("Choose what the order changes."))))
    if by is None:
        faults.append(Wrong(field="by", words=message(N_("Choose who gave it."))))
    if not SOURCE.fullmatch(source):
        words = message(N_("Type which document holds its words, such as a case and entry number."))
        faults.append(Wrong(field="source", words=words))
    minutes: dict[str, int | None] = {}
    for name in ("from", "until"):
        typed = form.text(name)
        minute = typed_minute(typed, name) if typed else None
        if isinstance(minute, Wrong):
            faults.append(minute)
        else:
            minutes[name] = minute
    if does == "extend_hours" and minutes.get("until") is None and "until" in minutes:
        faults.append(Wrong(field="until", words=message(N_("Type until when hours are extended."))))
    if place and not PLACE.fullmatch(place):
        words = message(N_("Type the place as a short word, such as a site's id."))
        faults.append(Wrong(field="place", words=words))
    sites = form.text("sites").replace(",", " ").split()
    unknown = [one for one in sites if one not in happening.site_names]
    if unknown:
        words = message(N_("No site of this day has the id {ids}."), ids=", ".join(unknown))
        faults.append(Wrong(field="sites", words=words))
    by_label = {one.label: one.subject for one in happening.orders}
    earlier = form.text("supersedes").replace(",", " ").split()
    absent = [one for one in earlier if one not in by_label]
    if absent:
        words = message(N_("No order has the number {numbers}."), numbers=", ".join(absent))
        faults.append(Wrong(field="supersedes", words=words))
    if does == "stay" and not earlier:
        words = message(N_("Type the number of the order that is stayed."))
        faults.append(Wrong(field="supersedes", words=words))
    if faults or does is None or by is None:
        return tuple(faults)
    body = OrderGiven(
        does=does,
        issued_by=by,
        source=source,
        sites=tuple(f"site/{one}" for one in dict.fromkeys(sites)),
        from_min=minutes["from"],
        until_min=minutes["until"],
        to_place=place,
        apart=apart,
        supersedes=tuple(by_label[one] for one in dict.fromkeys(earlier)),
    )
    text, caller = form.text("words"), form.text("caller")
    return ask.folder.write(
        body,
        who=ask.person(),
        subject=subject_of(happening.date, next_number(happening.orders)),
        day=happening.day,
        private=Told(words=text, caller=caller[:200]) if text or caller else None,
    ).id


def take_read_back(ask: Ask, happening: Happening) -> str:
    """A site read an order back, or was not reached."""
    form = ask.form
    subject, site, said = form.text("order"), form.text("site"), form.text("said")
    states: dict[str, Literal["same", "not_same", "not_reached"]] = {
        "same": "same",
        "not_same": "not_same",
        "not_reached": "not_reached",
    }
    known = any(one.subject == subject and one.covers(site) for one in happening.orders)
    if not known or site not in happening.site_names or said not in states:
        raise Trouble(409, N_("There is no such order now."), N_("Look at the list again."), "/orders")
    at_site = f"site/{site}"
    heads = happening.folded.heads(subject, "order.acknowledged", happening.day, at_site=at_site)
    return ask.folder.write(
        OrderAcknowledged(at_site=at_site, read_back=states[said], at_min=happening.now_min),
        who=ask.person(),
        subject=subject,
        site=at_site,
        day=happening.day,
        after=heads,
    ).id


def take_undo(ask: Ask, happening: Happening) -> str:
    """Take an order or a read-back back by a correction."""
    return take_back(ask, happening.folded, ("order.given", "order.acknowledged"), "/orders")
