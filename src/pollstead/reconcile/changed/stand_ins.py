"""Who may take a person's place: everybody else, those without a post first, with why and what to weigh."""

from __future__ import annotations

from pollstead.election.county import Election, Person
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message

MOST = 12
_NOT_AT_SITES = ("building contact", "driver", "official", "manager", "coordinator")


class StandIn(Value, frozen=True, kw_only=True):
    """One person who could take over: what speaks for it, what to weigh."""

    person: str
    name: str
    role: str
    phone: str
    why: tuple[Message, ...]
    warnings: tuple[Message, ...]


def stand_ins(election: Election, old: str) -> tuple[StandIn, ...]:
    """Twelve people at most who could take over from `old`, the best first.

    The order: held in reserve and without a site; of the same party, where one is told; speaking what the
    site's voters need; then by id. Whoever keeps a building or drives is left out. What a person was trained
    for is not in these tables. Raises ValueError where `old` is nobody.
    """
    gone = next((p for p in election.people if p.id == old), None)
    if gone is None:
        raise ValueError(f"no person has the id {old!r}")
    needs = next((s.language_assistance for s in election.sites if s.id == gone.site), ())
    others = [p for p in election.people if p.id != old and _works_at_sites(p)]
    ranked = sorted(
        others,
        key=lambda p: (
            bool(p.site),
            "reserve" not in p.role.casefold(),
            bool(gone.party) and p.party != gone.party,
            -sum(language in p.languages for language in needs),
            p.role != gone.role,
            p.id,
        ),
    )
    return tuple(_stand_in(p, gone, needs) for p in ranked[:MOST])


def _works_at_sites(person: Person) -> bool:
    return not any(word in person.role.casefold() for word in _NOT_AT_SITES)


def _stand_in(person: Person, gone: Person, needs: tuple[str, ...]) -> StandIn:
    why, warnings = [], []
    if not person.site:
        why.append(message(N_("Holds no place at a site.")))
    else:
        warnings.append(message(N_("Leaves {site} one person short."), site=person.site))
    if gone.party and person.party:
        same = person.party == gone.party
        words = N_("Of the same party.") if same else N_("Of another party: the county's rules decide.")
        (why if same else warnings).append(message(words))
    spoken = [language for language in needs if language in person.languages]
    if spoken:
        why.append(message(N_("Speaks {languages}."), languages=", ".join(spoken)))
    if not person.phone:
        warnings.append(message(N_("No phone is told.")))
    return StandIn(
        person=person.id,
        name=person.name,
        role=person.role,
        phone=person.phone,
        why=tuple(why),
        warnings=tuple(warnings),
    )
