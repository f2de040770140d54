"""Every change of the facts in words, the newest first, with what it made void and had printed."""

from __future__ import annotations

from pathlib import Path

from pollstead.election.instants import Instant
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.store.desk import DEVICE_KEY
from pollstead.store.opening import Store
from pollstead.work.changing_kept import KeptChange, kept
from pollstead.work.facts import all_changes


class ChangeLine(Value, frozen=True, kw_only=True):
    """One change: its number, when and by whom, what it was; `state` is how it stands against the tables.

    `may_undo` says whether it can be taken back here; `void` and `printed` count sheets. `site_words` tell
    no number that is read independently; `names_people` says whether both words name people.
    """

    number: int
    event: str
    act: str
    when: str
    utc_ms: int
    person: str
    words: Message
    site_words: Message
    names_people: bool
    reason: str
    state: str
    may_undo: bool
    void: int = 0
    printed: int = 0
    files: tuple[str, ...] = ()


_ACTS = {
    "import": N_("A workbook was taken in."),
    "amend": N_("Facts were amended."),
    "bulk_edit": N_("Many cells were changed at once."),
    "undo": N_("An earlier change was undone."),
    "accept": N_("A change of another computer was taken in."),
    "set_aside": N_("A change was set aside."),
}
_UNDOABLE = ("in the tables", "tables changed since")


def change_lines(folder: Path, store: Store) -> tuple[ChangeLine, ...]:
    """Every change, the newest first."""
    device = store.settings.get(DEVICE_KEY)
    found = []
    for one in all_changes(folder, store, "" if device is None else device.decode()):
        change, held = one.change, kept(store, one.change.event)
        when = Instant(utc_ms=change.utc_ms + change.offset_min * 60_000).local("UTC")
        found.append(
            ChangeLine(
                number=change.number,
                event=change.event,
                act=change.act,
                when=when.strftime("%Y-%m-%d %H:%M"),
                utc_ms=change.utc_ms,
                person=change.author,
                words=_words(change.act, change.count, held),
                site_words=_words(change.act, change.count, held, site=True),
                names_people=held is not None and held.intent.change.names_people,
                reason=change.reason,
                state=one.standing.value,
                may_undo=change.known and one.standing.value in _UNDOABLE,
                void=0
                if held is None or held.intent.consequence is None
                else len(held.intent.consequence.void),
                printed=0
                if held is None or held.intent.consequence is None
                else len(held.intent.consequence.prints),
                files=() if held is None else held.files,
            )
        )
    return tuple(reversed(found))


def _words(act: str, cells: int, held: KeptChange | None, *, site: bool = False) -> Message:
    if held is not None:
        return held.intent.change.site_words if site else held.intent.change.words
    if act in _ACTS:
        return message(_ACTS[act])
    return message(N_("{act}: {count} cells changed."), act=act.replace("_", " "), count=cells)
