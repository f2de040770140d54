"""What a person says of a table of counts, in words typed at a prompt or chosen in a form."""

from __future__ import annotations

from pollstead.election.values import Value
from pollstead.election.words import N_, Message, message
from pollstead.intake.counts.mapping import ALL_MODES, ColumnUse, CountMapping, NameUse, Role
from pollstead.intake.counts.names import Names, folded
from pollstead.work.count_names import MODE_WORDS, QUANTITY_WORDS

UNUSED = "unused"
"""What a column is that a person says holds nothing of use."""


class NotUnderstood(ValueError):
    """A word that means nothing here; `said` says which are known."""

    def __init__(self, said: Message) -> None:
        super().__init__(said.english())
        self.said = said


class Asked(Value, frozen=True, kw_only=True):
    """A person's words: ``THEIRS=OURS`` of columns and names, names left out, and what holds for all rows."""

    columns: tuple[str, ...] = ()
    same: tuple[str, ...] = ()
    leave_out: tuple[str, ...] = ()
    quantity: str = ""
    mode: str = ""
    add_rows: bool = False

    def says_columns(self, mapping: CountMapping) -> bool:
        """Whether the person said every column that is used."""
        said = {one.rpartition("=")[0] for one in self.columns}
        return bool(mapping.columns) and all(use.theirs in said for use in mapping.columns)


def columns_given(asked: Asked) -> tuple[ColumnUse, ...]:
    """The columns that a person says are used; raises NotUnderstood."""
    return tuple(use for one in asked.columns if (use := column_said(*_pair(one, "--column"))) is not None)


def column_said(theirs: str, ours: str) -> ColumnUse | None:
    """What a column holds by a coded word: a role, or a quantity with or without its way of voting.

    None where it is unused. Raises NotUnderstood.
    """
    if ours in ("", UNUSED):
        return None
    if ours in {role.value for role in Role}:
        return ColumnUse(theirs=theirs, role=Role(ours))
    quantity, _, mode = ours.partition("/")
    if (quantity and quantity not in QUANTITY_WORDS) or (mode and mode not in MODE_WORDS):
        known = ", ".join((*(role.value for role in Role), *QUANTITY_WORDS))
        said = N_("A column holds one of {known}, or a quantity/WAY with one of {ways}; not {word}.")
        raise NotUnderstood(message(said, known=known, ways=", ".join(MODE_WORDS), word=ours))
    return ColumnUse(theirs=theirs, role=Role.COUNT, quantity=quantity, mode=mode)


def word_of(use: ColumnUse) -> str:
    """The coded word of a column's use, as `column_said` reads it."""
    if use.role is not Role.COUNT or not (use.quantity or use.mode):
        return use.role.value
    return f"{use.quantity}/{use.mode}" if use.mode else use.quantity


def mapping_asked(mapping: CountMapping, asked: Asked, names: Names) -> CountMapping:
    """The mapping as proposed or kept, with what the person says; raises NotUnderstood, KeyError."""
    unused = {_pair(one, "--column")[0] for one in asked.columns if _pair(one, "--column")[1] in ("", UNUSED)}
    for theirs in unused:
        if theirs not in mapping.header:
            raise KeyError(theirs)
    if asked.quantity and asked.quantity not in QUANTITY_WORDS:
        said = N_("The quantity is one of: {known}.")
        raise NotUnderstood(message(said, known=", ".join(QUANTITY_WORDS)))
    if asked.mode and asked.mode not in MODE_WORDS:
        raise NotUnderstood(message(N_("The way of voting is one of: {known}."), known=", ".join(MODE_WORDS)))
    return CountMapping(
        header=mapping.header,
        target=mapping.target,
        columns=tuple(use for use in mapping.columns if use.theirs not in unused),
        names=names_said(mapping, asked, names),
        quantity=asked.quantity or mapping.quantity,
        mode=asked.mode or mapping.mode or ALL_MODES,
        add_rows=asked.add_rows or mapping.add_rows,
        confirmed_by=mapping.confirmed_by,
    )


def names_said(mapping: CountMapping, asked: Asked, names: Names) -> tuple[NameUse, ...]:
    """The names of a mapping with those that the person says now; raises NotUnderstood.

    A name typed at a prompt does not say of which column it is: it is of those whose ids it names, and one
    that is left out is left out of each.
    """
    roles = [role for role in Role if role is not Role.COUNT and mapping.of(role)]
    new = [NameUse(role=role, theirs=one, ours="") for one in asked.leave_out for role in roles]
    for one in asked.same:
        theirs, ours = _pair(one, "--same")
        of = [role for role in roles if role in names.roles_of(ours)]
        if not of:
            said = N_("{ours} is the id of nothing that a column of this table names.")
            raise NotUnderstood(message(said, ours=ours))
        new += [NameUse(role=role, theirs=theirs, ours=ours) for role in of]
    return together(mapping.names, tuple(new))


def together(held: tuple[NameUse, ...], new: tuple[NameUse, ...]) -> tuple[NameUse, ...]:
    """The names held before with those said now; the later word on a name holds."""
    latest = {(use.role, folded(use.theirs)): use for use in (*held, *new)}
    return tuple(latest.values())


def _pair(text: str, option: str) -> tuple[str, str]:
    """Their text and ours; the last equals sign parts them, so that theirs may hold one."""
    theirs, sign, ours = text.rpartition("=")
    if not sign or not theirs:
        said = N_("{option} takes THEIRS=OURS, not {text}.")
        raise NotUnderstood(message(said, option=option, text=text))
    return theirs.strip(), ours.strip()
