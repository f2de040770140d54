"""Events of what goes wrong while people vote: incidents, jams, ballots in the auxiliary bin, a room left.

What happened, who called and people's own words stand in private parts. No event names a voter or a ballot.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

from msgspec import Meta

from pollstead.record.kinds.body import (
    Count,
    DayBody,
    Id,
    Minute,
    Nature,
    Private,
    Word,
)

Service = Literal["goes_on", "slower", "stopped"]
"""Whether voters could be served meanwhile, at the device where one is named, else at the whole site."""


class Told(Private, frozen=True, omit_defaults=True):
    """What was told, in the caller's words, and who called."""

    words: Annotated[str, Meta(max_length=2000)] = ""
    caller: Annotated[str, Meta(max_length=200)] = ""


class IncidentReported(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``incident.reported``: something went wrong at a site. Subject: the incident; the site is the event's.

    `what` is a kind of the county's list; `at_min` when it began, minutes of the operating day; `device` ""
    where it is about none.
    """

    kind: ClassVar[str] = "incident.reported"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Told
    subjects: ClassVar[tuple[str, ...]] = ("incident",)

    what: Word
    at_min: Minute
    device: Id | Literal[""] = ""
    service: Service = "goes_on"


class IncidentJoined(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``incident.joined``: a second call was about an incident told before. Subject: the second one.

    `into` is the subject of the earlier one; "" takes it apart again. Both reports stay.
    """

    kind: ClassVar[str] = "incident.joined"
    nature: ClassVar[Nature] = Nature.DECISION
    private: ClassVar[type[Private] | None] = Told
    subjects: ClassVar[tuple[str, ...]] = ("incident",)

    into: Id | Literal[""] = ""


class IncidentEnded(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``incident.ended``: it is over since `at_min`, or goes on after all. Subject: the incident."""

    kind: ClassVar[str] = "incident.ended"
    nature: ClassVar[Nature] = Nature.DECISION
    private: ClassVar[type[Private] | None] = Told
    subjects: ClassVar[tuple[str, ...]] = ("incident",)

    at_min: Minute
    state: Literal["ended", "goes_on"] = "ended"


class BallotJam(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``ballot.jam``: one ballot stuck in a device at `at_min`. Subject: the device.

    `before` and `after` are its public counter before the ballot went in and once it was free, None where
    nobody read it. `went` is where the ballot is: scanned again, put into the auxiliary bin, fallen into the
    ballot box, given back to be marked again, or not known.
    """

    kind: ClassVar[str] = "ballot.jam"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Told
    subjects: ClassVar[tuple[str, ...]] = ("device", "station")

    at_min: Minute
    before: Count | None = None
    after: Count | None = None
    went: Literal["scanned_again", "auxiliary_bin", "in_box", "spoiled", "not_known"] = "not_known"


class BinUsed(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``bin.used``: the auxiliary bin of a device holds ballots from `at_min` on, or is empty again.

    Subject: the device. `ballots` is how many went in or came out, None where nobody counted.
    """

    kind: ClassVar[str] = "bin.used"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Told
    subjects: ClassVar[tuple[str, ...]] = ("device", "station")

    at_min: Minute
    state: Literal["put_in", "taken_out_scanned", "shown_empty"] = "put_in"
    ballots: Count | None = None


class LeftThing(DayBody, frozen=True, kw_only=True, omit_defaults=True):
    """``room.left``: people left a room in a hurry and this thing was left there, or taken along.

    Subject: the thing. Custody starts again from here: `place` is where it is now. The people who carry it
    are receivers of the event. Recorded when everybody is safe; nothing waits for it.
    """

    kind: ClassVar[str] = "room.left"
    nature: ClassVar[Nature] = Nature.ENTRY
    private: ClassVar[type[Private] | None] = Told

    at_min: Minute
    place: Id
    state: Literal["left_there", "taken_along", "not_known"]
    seals: Literal["", "intact", "not_intact", "none", "not_looked"] = ""
