"""Fix a number of the plan, or let it follow the plan again: one signed event each, with reason and name."""

from __future__ import annotations

from pollstead.election.county import Election
from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.plan.cells import find_cell
from pollstead.plan.fixing import DEVICES, FIELDS
from pollstead.plan.terms.version import PlanVersion
from pollstead.record.event import Person, Signed
from pollstead.record.fold import Fold
from pollstead.record.kinds.body import Reason
from pollstead.record.kinds.offices import FixedPrivate, ValueFixed, ValueUnfixed
from pollstead.record.write import Moment, Recorder, ToRecord
from pollstead.work.county_folder import Refused

FACT = "value"
LONGEST_ROW = 128


class Place(Value, frozen=True, kw_only=True):
    """One cell of a plan table."""

    table: str
    row: str
    field: str

    @property
    def subject(self) -> str:
        """The thing that the row describes, as events name it."""
        return self.row if self.table == DEVICES else f"site/{self.row.partition('/')[0]}"


class Decision(Value, frozen=True, kw_only=True):
    """A decision that stands: who fixed what, when, and why."""

    place: Place
    value: str
    reason: str
    person: str
    utc_ms: int
    event: str


def fault_of(
    place: Place, value: str, reason: str, election: Election | None, version: PlanVersion | None
) -> tuple[str, Message] | None:
    """The form's field and the words for what is wrong with a decision; None where it can be written.

    Without a plan only the table, the field and the value are looked at.
    """
    cells = FIELDS.get((place.table, place.field))
    if cells is None:
        known = ", ".join(f"{table} {field}" for table, field in FIELDS)
        words = N_("The plan has no table {table} with a field {field} to fix. There are: {known}.")
        return "value", message(words, table=place.table, field=place.field, known=known)
    if len(place.row) > LONGEST_ROW:
        return "value", message(N_("The name of this row is too long to be recorded: {row}."), row=place.row)
    if version is not None and election is not None:
        if find_cell(election, version, place.table, place.row, place.field) is None:
            words = N_("The plan has no row {row} in its table {table}. A row is named {shape}.")
            return "value", message(words, row=place.row, table=place.table, shape=cells.row)
        if (place.table, place.field) == ("sites", "kind") and value not in {
            k.id for k in election.site_kinds
        }:
            kinds = ", ".join(kind.id for kind in election.site_kinds)
            return "value", message(N_("Give one of these kinds of site: {kinds}."), kinds=kinds)
        if (place.table, place.field) == (DEVICES, "site") and value not in {s.site for s in version.sites}:
            return "value", message(N_("The plan has no site {site}."), site=value)
    if not cells.fits(value):
        if cells.least is None:
            return "value", message(N_("Give a value."))
        words = N_("Give a whole number from {least} to {most}.")
        return "value", message(words, least=cells.least, most=cells.most or 0)
    if not reason.strip():
        return "reason", message(N_("Say in a few words why."))
    return None


def decisions_standing(fold: Fold) -> tuple[Decision, ...]:
    """Every value of a plan table that an event fixes now, by table, row and field."""
    found = []
    for fact in fold.named(FACT):
        table = str(fact.key.get("table"))
        for reading in fact.current:
            if reading.kind != ValueFixed.kind or reading.value.get("value") is None:
                continue
            place = Place(table=table, row=str(fact.key["row"]), field=str(fact.key["field"]))
            private = reading.private
            found.append(
                Decision(
                    place=place,
                    value=str(reading.value["value"]),
                    reason=str(private["reason"]) if private is not None else "",
                    person=reading.people[0].person,
                    utc_ms=reading.utc_ms,
                    event=reading.event,
                )
            )
    return tuple(sorted(found, key=lambda d: (d.place.table, d.place.row, d.place.field, d.utc_ms)))


def fix(
    recorder: Recorder,
    fold: Fold,
    place: Place,
    value: str,
    *,
    reason: str,
    people: tuple[Person, ...],
    moment: Moment,
) -> Signed:
    """Record that a person fixes a cell; it takes the place of what was decided about the cell before."""
    return recorder.record(
        ValueFixed(table=place.table, row=place.row, field=place.field, value=value),
        subject=place.subject,
        people=people,
        moment=moment,
        after=_known(fold, place),
        private=FixedPrivate(reason=reason),
    )


def fix_all(
    recorder: Recorder,
    fold: Fold,
    values: tuple[tuple[Place, str], ...],
    *,
    reason: str,
    people: tuple[Person, ...],
    moment: Moment,
) -> tuple[Signed, ...]:
    """Record that a person fixes several cells by one act: all of them or, where the program stops, none."""
    known = _known_by_place(fold)
    entries = tuple(
        ToRecord(
            body=ValueFixed(table=place.table, row=place.row, field=place.field, value=value),
            subject=place.subject,
            after=known.get(place, ()),
            private=FixedPrivate(reason=reason),
        )
        for place, value in values
    )
    return recorder.record_run(entries, people=people, moment=moment) if entries else ()


def unfix_all(
    recorder: Recorder,
    fold: Fold,
    places: tuple[Place, ...],
    *,
    reason: str,
    people: tuple[Person, ...],
    moment: Moment,
) -> tuple[Signed, ...]:
    """Record that several cells follow the plan again, by one act: all of them or none.

    Cells that no decision fixes any more are passed over.
    """
    known = _known_by_place(fold)
    standing = {decision.place for decision in decisions_standing(fold)}
    entries = tuple(
        ToRecord(
            body=ValueUnfixed(table=place.table, row=place.row, field=place.field),
            subject=place.subject,
            after=known.get(place, ()),
            private=Reason(reason=reason),
        )
        for place in places
        if place in standing
    )
    return recorder.record_run(entries, people=people, moment=moment) if entries else ()


def unfix(
    recorder: Recorder,
    fold: Fold,
    place: Place,
    *,
    reason: str,
    people: tuple[Person, ...],
    moment: Moment,
) -> Signed:
    """Record that a cell follows the plan again. Refuses where no event fixes it."""
    if not any(decision.place == place for decision in decisions_standing(fold)):
        raise Refused(
            message(
                N_(
                    "Nobody fixed {table} {row} {field} by a decision. "
                    "A value that stands in the table fixed is taken out there."
                ),
                table=place.table,
                row=place.row,
                field=place.field,
            )
        )
    return recorder.record(
        ValueUnfixed(table=place.table, row=place.row, field=place.field),
        subject=place.subject,
        people=people,
        moment=moment,
        after=_known(fold, place),
        private=Reason(reason=reason),
    )


def _known(fold: Fold, place: Place) -> tuple[str, ...]:
    """The decisions about the cell that this one knows of, whatever subject they were recorded under."""
    return _known_by_place(fold).get(place, ())


def _known_by_place(fold: Fold) -> dict[Place, tuple[str, ...]]:
    found: dict[Place, list[str]] = {}
    for fact in fold.named(FACT):
        table, row, field = (str(fact.key.get(name)) for name in ("table", "row", "field"))
        place = Place(table=table, row=row, field=field)
        found.setdefault(place, []).extend(reading.event for reading in fact.current)
    return {place: tuple(sorted(events)) for place, events in found.items()}
