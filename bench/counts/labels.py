"""The generators' words for faults beside the kinds that an explanation may have.

Credit for an explanation is given where it names the numbers that ought to be written (`Fault.correction`).
Where a fault is of the process, the same thing may be said by other numbers: then the kind and the device
decide. A label that stands in no table here is of reading or copying, and only the numbers count.
"""

from __future__ import annotations

from collections.abc import Mapping

KINDS_OF: Mapping[str, tuple[str, ...]] = {
    "spoiled ballot not put in its envelope": ("spoiled not logged",),
    "spoiled ballot and its replacement not tallied": ("spoiled and reissue not logged",),
    "replacement not tallied": ("reissue not logged",),
    "voter left, ballot not held apart": ("fled not logged", "voter left, ballot not back"),
    "ballot held as left, cast after all": ("logged as fled, cast after all",),
    "cancelled check-in not written down": ("cancelled check-in not logged",),
    "checked in twice": ("checked in twice",),
    "let in without a check-in": ("check-in left out",),
    "curbside voter on the tally and the list": ("checked in twice",),
    "two ballots stuck together, both fed": ("two ballots handed out as one",),
    "provisional ballot fed to a device": ("provisional ballot scanned",),
    "provisional ballots on the tally of regular ones": ("provisional counted inside",),
    "provisional ballot not on the tally card": ("provisional not logged",),
    "jammed, fed again, counted twice": ("ballot counted twice by a device",),
    "jammed, in the box, not counted": ("ballot in the box, not counted",),
    "bin not emptied": ("auxiliary bin left out",),
    "bin fed later and counted by hand too": ("auxiliary bin counted twice",),
    "test sheets left in the counter": ("opening counter not zero",),
    "test sheets left in, lifetime read after": ("opening counter not zero",),
}
"""Omissions of the process and the kinds of explanation that say the same."""
