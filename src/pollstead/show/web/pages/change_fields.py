"""The fields that each act asks for beside old and new, and the words for the old thing."""

from __future__ import annotations

from pollstead.election.station_type import VoterStep
from pollstead.election.values import Value
from pollstead.election.words import N_
from pollstead.reconcile.changed.candidates import standing_of
from pollstead.reconcile.changed.terms import Act
from pollstead.work.changing_seals import closure_named
from pollstead.work.changing_terms import Ground


class FieldOf(Value, frozen=True, kw_only=True):
    """One field: its name, label and hint, what stands there now, and the choices where it has some."""

    name: str
    label: str
    hint: str = ""
    value: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    required: bool = False


VOID_REASONS = (
    ("cut", N_("It was cut")),
    ("damaged", N_("It is damaged")),
    ("lost", N_("It is lost")),
    ("misprinted", N_("Its number cannot be read")),
)
CHECKS = (
    ("", N_("as its series has it")),
    ("none", N_("none")),
    ("damm", N_("a digit, Damm")),
    ("luhn", N_("a digit, Luhn (modulus 10)")),
    ("iso 37-36", N_("a digit or letter, ISO/IEC 7064 MOD 37,36")),
)
BUILDING = (("same", N_("Another room, or only the hours")), ("another", N_("Another building")))
CLOCK_HINT = N_("Like 07:00; past midnight like 24:40.")


def fields_of_act(ground: Ground, act: Act, old: str) -> tuple[FieldOf, ...]:
    """The fields of an act, with what the tables hold now where they can be changed."""
    if act is Act.RESEAL:
        return (
            FieldOf(
                name="new", label=N_("Number on the new seal"), hint=N_("Type or scan it."), required=True
            ),
            FieldOf(name="void", label=N_("What happened to the old seal?"), choices=VOID_REASONS),
        )
    if act is Act.REPLACE_PERSON:
        return (
            FieldOf(name="name", label=N_("Name of a person who is not in the list")),
            FieldOf(name="phone", label=N_("Phone")),
        )
    if act is Act.ADD_STOCK:
        kinds = sorted({c.seal_kind for t in ground.election.station_types for c in t.closures} - {""})
        return (
            FieldOf(name="seal_kind", label=N_("Kind of seal"), choices=tuple((k, k) for k in kinds)),
            FieldOf(name="series", label=N_("Series, or the order"), required=True),
            FieldOf(
                name="first", label=N_("First number"), hint=N_("With the zeros in front."), required=True
            ),
            FieldOf(name="last", label=N_("Last number"), required=True),
            FieldOf(name="check_character", label=N_("Check character behind each number"), choices=CHECKS),
            FieldOf(name="quantity", label=N_("How many its paper says")),
            FieldOf(name="counted", label=N_("How many the two of you counted")),
            FieldOf(
                name="people", label=N_("Who counted"), hint=N_("Two ids from people.csv, a blank between.")
            ),
            FieldOf(name="ordered", label=N_("Date of the order"), hint=N_("Like 2028-09-01, or blank.")),
            FieldOf(name="received", label=N_("Date of receipt"), hint=N_("Blank means today.")),
            FieldOf(name="held_at", label=N_("Where they are locked up")),
        )
    if act is Act.MOVE_SITE:
        return _of_a_move(ground, old)
    return ()


def _of_a_move(ground: Ground, site: str) -> tuple[FieldOf, ...]:
    found = next((s for s in ground.election.sites if s.id == site), None)
    backup = ground.cell("site_access", site, "backup_site")
    hint = N_("Leave as it is what stays.")
    fields = [
        FieldOf(name="building", label=N_("What moves?"), choices=BUILDING),
        FieldOf(name="name", label=N_("Name of the building"), hint=hint, value=found.name if found else ""),
        FieldOf(name="address", label=N_("Address"), value=found.address if found else ""),
        FieldOf(
            name="contact", label=N_("Building contact, an id"), value=(found.contact or "") if found else ""
        ),
        FieldOf(name="openers", label=N_("Who opens, ids"), value=" ".join(found.openers) if found else ""),
        FieldOf(name="opens", label=N_("Opens"), hint=CLOCK_HINT),
        FieldOf(name="closes", label=N_("Closes"), hint=CLOCK_HINT),
        FieldOf(
            name="date",
            label=N_("On which day are the hours different?"),
            choices=(
                ("", N_("every day")),
                *((h.date.isoformat(), h.date.isoformat()) for h in (found.hours if found else ())),
            ),
        ),
    ]
    if backup:
        fields.insert(1, FieldOf(name="backup", label=N_("Backup site in the tables"), value=backup))
    return tuple(fields)


def shown_old(ground: Ground, act: Act, old: str) -> str:
    """What an act is about, as people call it."""
    election = ground.election
    if act is Act.SWAP_DEVICE:
        device = next(d for d in election.devices if d.id == old)
        place = standing_of(ground.plan).get(old) if ground.plan is not None else None
        site = election.site(place.site).name if place is not None else ""
        return " · ".join(filter(None, (device.serial, device.tag, device.kind, site)))
    if act is Act.RESEAL:
        seal, device_id, site, _ = closure_named(ground, old)
        serial = next((d.serial for d in election.devices if d.id == device_id), device_id)
        return " · ".join(filter(None, (seal.name, serial, election.site(site).name if site else "")))
    if act is Act.REPLACE_PERSON:
        person = next(p for p in election.people if p.id == old)
        return " · ".join(filter(None, (person.name, person.role, person.site)))
    if act is Act.MOVE_SITE:
        found = next((s for s in election.sites if s.id == old), None)
        if found is None:
            raise ValueError(f"no site has the id {old!r}")
        return " · ".join(filter(None, (found.name, found.address)))
    return ""


def casts_ballots(ground: Ground, device: str) -> bool:
    """Whether ballots are cast at the station of a device: then a swap on the day keeps both on paper."""
    place = standing_of(ground.plan).get(device) if ground.plan is not None else None
    if place is None or ground.plan is None:
        return False
    station = next(s for s in ground.plan.site(place.site).stations if s.id == place.station)
    step = ground.election.station_type(station.station_type).step
    return step in (VoterStep.CAST, VoterStep.MARK_AND_CAST)
