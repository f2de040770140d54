"""Which site, device or quantity a text means: exactly, or as a person confirmed; never by guess."""

from __future__ import annotations

import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Mapping

from rapidfuzz import fuzz, process

from pollstead.election.values import Value
from pollstead.intake.counts.mapping import NameUse, Role

NEAREST = 3
"""How many names are offered for one that is not known."""

MOST_WITH_NEAREST = 200
"""Unknown names of one table for which nearest ones are looked for: the others wait until these are said."""

NEAR_ENOUGH = 60
"""How alike (0 to 100) a name must be to be offered."""


class Named(Value, frozen=True, kw_only=True):
    """Something of the county that a table may name: its id, and every name it goes by."""

    role: Role
    id: str
    names: tuple[str, ...]


class Unknown(Value, frozen=True, kw_only=True):
    """A text that names nothing known: where it stands first, how often, and the ids nearest to it.

    `same_as` are ids that all go by this very name: then a person says which one is meant.
    """

    role: Role
    text: str
    column: str
    row: int
    times: int
    nearest: tuple[str, ...]
    same_as: tuple[str, ...] = ()


class Names:
    """The names of a county, and what a person said of others."""

    def __init__(self, known: Iterable[Named], said: Iterable[NameUse] = ()) -> None:
        self.ids: Mapping[Role, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
        self._shown: Mapping[Role, dict[str, str]] = defaultdict(dict)
        for one in known:
            for name in (one.id, *one.names):
                if name.strip():
                    self.ids[one.role][folded(name)].add(one.id)
                    self._shown[one.role][folded(name)] = one.id
        ids = {role: {i for named in by_name.values() for i in named} for role, by_name in self.ids.items()}
        # What was confirmed of something that is no longer there is asked anew.
        self._said = {
            (use.role, folded(use.theirs)): use.ours
            for use in said
            if not use.ours or use.ours in ids.get(use.role, set()) or not ids.get(use.role)
        }

    def find(self, role: Role, text: str) -> str | None:
        """The id that a text means; "" where its rows are left out; None where nobody has said.

        Letters are compared without regard to case and to how an accent is written. Digits are text:
        7 and 007 are two names.
        """
        said = self._said.get((role, folded(text)))
        if said is not None:
            return said
        ids = self.ids[role].get(folded(text), set())
        return next(iter(ids)) if len(ids) == 1 else None

    def roles_of(self, own: str) -> tuple[Role, ...]:
        """The roles in which `own` is the id of something."""
        return tuple(
            role for role, by_name in self.ids.items() if any(own in named for named in by_name.values())
        )

    def unknown(
        self, role: Role, text: str, *, column: str, row: int, times: int, near_too: bool = True
    ) -> Unknown:
        """What to ask about a text that `find` does not know; the nearest ids where `near_too`."""
        same = tuple(sorted(self.ids[role].get(folded(text), set())))
        choices = self._shown[role]
        near = (
            process.extract(
                folded(text), choices.keys(), scorer=fuzz.WRatio, limit=NEAREST * 3, score_cutoff=NEAR_ENOUGH
            )
            if near_too
            else ()
        )
        ids = tuple(dict.fromkeys((*same, *(choices[name] for name, _, _ in near))))[:NEAREST]
        return Unknown(role=role, text=text, column=column, row=row, times=times, nearest=ids, same_as=same)


def folded(text: str) -> str:
    """A text as names are compared: one way of writing accents, no case, single spaces."""
    return " ".join(unicodedata.normalize("NFKC", text).casefold().split())
