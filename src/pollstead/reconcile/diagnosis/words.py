"""The words for an explanation: each step from the expected number, or the thing that the number is of."""

from __future__ import annotations

from pollstead.election.words import N_, Message, message
from pollstead.reconcile.diagnosis.edits import Edit, EditKind
from pollstead.reconcile.diagnosis.known import Known, VoidSeal

VOID_WORDS = {
    "damaged": N_("The seal ledger has this number as damaged: it is never used."),
    "lost": N_("The seal ledger has this number as lost: it is never used."),
    "misprinted": N_("The seal ledger has this number as misprinted: it is never used."),
    "cut": N_("The seal ledger has this number as cut: it is never used again."),
}


def edit_words(edit: Edit) -> Message:
    """One step, as a person would say it; its parameters hold all that is needed to take it again."""
    position, was, found = edit.position, edit.was, edit.found
    if edit.kind is EditKind.SUBSTITUTED:
        template = (
            N_("One digit differs at position {position}: {was} read as {found}.")
            if was.isdigit() and found.isdigit()
            else N_("One character differs at position {position}: {was} read as {found}.")
        )
        return message(template, position=position, was=was, found=found)
    if edit.kind is EditKind.TRANSPOSED:
        return message(
            N_("Two neighbors changed places at positions {position} and {second}: {was} read as {found}."),
            position=position,
            second=position + 1,
            was=was,
            found=found,
        )
    if edit.kind is EditKind.TWIN:
        return message(
            N_("A pair differs at positions {position} and {second}: {was} read as {found}."),
            position=position,
            second=position + 1,
            was=was,
            found=found,
        )
    if edit.kind is EditKind.DROPPED:
        return message(N_("The {was} at position {position} was left out."), was=was, position=position)
    if edit.kind is EditKind.DOUBLED:
        return message(N_("The {was} at position {position} was read twice."), was=was, position=position)
    if edit.kind is EditKind.ZEROS:
        return message(
            N_("The zeros in front were left out: {was} at position {position}."), was=was, position=position
        )
    if position == 0:
        return message(N_("A {found} too many in front."), found=found)
    return message(N_("A {found} too many after position {position}."), found=found, position=position)


def closure_words(one: Known) -> Message:
    """Another number of the same device."""
    return message(N_("It belongs to {words} on the same device."), words=one.words)


def device_words(one: Known) -> Message:
    """A number of another device at this site."""
    return message(
        N_("It belongs to {words} of {station}, at this site."), words=one.words, station=one.station
    )


def site_words(one: Known) -> Message:
    """A number of another site."""
    return message(
        N_("It belongs to {words} of {station}, at site {site}."),
        words=one.words,
        station=one.station,
        site=one.site,
    )


def spare_words(one: Known) -> Message:
    """A number of a device that no list has."""
    return message(
        N_("It belongs to {words} of {station}, which no list has on this day."),
        words=one.words,
        station=one.station,
    )


def stock_words(series: tuple[str, ...]) -> Message:
    """A seal of the stock that no closure has."""
    if len(series) > 1:
        return message(
            N_("It is a spare seal of the stock; {count} series have this number: {series}."),
            count=len(series),
            series=", ".join(series),
        )
    return message(N_("It is a spare seal of the stock, series {series}."), series=series[0])


def void_words(void: VoidSeal) -> Message:
    """A void seal, with the ledger's reason."""
    known = VOID_WORDS.get(void.reason)
    return message(known or N_("The seal ledger has this number as void: it is never used."))


def unknown_words() -> Message:
    """A number that nothing has."""
    return message(N_("No list and no stock of this county has this number."))


def count_words(difference: int) -> Message:
    """A counter that may truly show another count."""
    return message(N_("Another count may stand there; it differs by {difference}."), difference=difference)


def no_count_words() -> Message:
    """What was read cannot be a counter's."""
    return message(N_("A count has digits alone."))


def near_words() -> Message:
    """Said before the steps from another thing's number: it was not read as it stands."""
    return message(N_("Read with a slip:"))


def check_words() -> Message:
    """The number's own check character does not fit."""
    return message(
        N_(
            "Its last character is not the check character of those before it, as in every other number of "
            "this kind; so a character was misread."
        )
    )


def seal_check_words() -> Message:
    """The seal's own check character does not fit the series of the stock."""
    return message(
        N_(
            "This number's check character does not fit, so no seal of the county's series has it: it was "
            "misread twice, or the seal is not the county's. Look at the seal once more."
        )
    )


def twice_words(one: Known, *, here: str) -> Message:
    """The number matches, and another thing has the same one."""
    if one.site in ("", here):
        return message(
            N_("{words} of {station} has the same number. Record both and tell the office."),
            words=one.words,
            station=one.station,
        )
    return message(
        N_("{words} of {station}, at site {site}, has the same number. Record both and tell the office."),
        words=one.words,
        station=one.station,
        site=one.site,
    )


def two_series_words(series: tuple[str, ...]) -> Message:
    """The number matches, and two orders brought a seal with it."""
    return message(
        N_("{count} series of the stock have this number: {series}. Record both and tell the office."),
        count=len(series),
        series=", ".join(series),
    )
