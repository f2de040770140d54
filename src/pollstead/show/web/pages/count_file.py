"""What does a file of counts say? Its columns and names to confirm, its numbers against the record."""

from __future__ import annotations

import re
from typing import Any, ClassVar, Final

from litestar import Request, Response, get, post
from litestar.params import FromPath

from pollstead.election.notice import Notice
from pollstead.election.values import Value
from pollstead.election.words import N_, message
from pollstead.intake.counts.mapping import (
    ALL_MODES,
    NAMED,
    TARGET_WORDS,
    ColumnUse,
    CountMapping,
    NameUse,
    Role,
    Target,
)
from pollstead.intake.counts.names import Unknown
from pollstead.intake.foreign import Skipped
from pollstead.intake.held_file import HeldFile
from pollstead.show.cautions import Caution, Place, for_place
from pollstead.show.web.capabilities import Capability
from pollstead.show.web.pages.frame import Ask, Page, Trouble, answer, go, in_thread
from pollstead.show.web.pages.who_page import FieldFault
from pollstead.show.web.uploads import Upload
from pollstead.work.count_asked import UNUSED, NotUnderstood, column_said, together, word_of
from pollstead.work.count_import import (
    County,
    FileRead,
    ImportLine,
    NothingToTake,
    Preview,
    SheetRead,
    Standing,
    confirm_mapping,
    county_of,
    is_fault,
    preview,
    read_count_file,
    take,
)
from pollstead.work.count_names import MODE_WORDS, QUANTITY_WORDS

MOST_UNKNOWN: Final = 60
"""Names asked about at once; the next ones come when these are said."""

MOST_LINES: Final = 600
LEFT_OUT: Final = "-"
MARKS: Final = {Standing.NEW: "ring", Standing.SAME: "square", Standing.DIFFERS: "diamond"}
_FIELD = re.compile(r"name-([0-9]{1,3})")


class ColumnRow(Value, frozen=True, kw_only=True):
    """A column of the file: its heading, some of its cells, what it is taken for as a coded word."""

    place: int
    heading: str
    samples: tuple[str, ...]
    word: str


class UnknownRow(Value, frozen=True, kw_only=True):
    """A name nobody knows; `choices` are ids with their names, the nearest first."""

    place: int
    item: Unknown
    role: str
    nearest: tuple[tuple[str, str], ...]
    others: tuple[tuple[str, str], ...]
    chosen: str


class LineRow(Value, frozen=True, kw_only=True):
    """One number against the record."""

    name: str
    mode: str
    quantity: str
    amount: int
    styles: tuple[tuple[str, int], ...]
    rows: tuple[int, ...]
    mark: str
    standing: str
    there: tuple[int, ...]
    elsewhere: tuple[tuple[str, int], ...]


class CountFilePage(Page, frozen=True, kw_only=True):
    """A file of counts before anything of it is recorded."""

    template: ClassVar[str] = "count_file.html"

    digest: str
    sheets: tuple[tuple[str, bool], ...]
    sheet: str
    unread: tuple[Notice, ...]
    remarks: tuple[Notice, ...]
    rows: int
    header_row: int
    standard: str
    confirmed: bool
    confirmed_by: str
    columns: tuple[ColumnRow, ...]
    uses: tuple[tuple[str, str], ...]
    targets: tuple[tuple[str, str], ...]
    target: str
    quantities: tuple[tuple[str, str], ...]
    quantity: str
    modes: tuple[tuple[str, str], ...]
    mode: str
    add_rows: bool
    missing: tuple[str, ...]
    unknown: tuple[UnknownRow, ...]
    more_unknown: int
    wrong: tuple[Notice, ...]
    differences: tuple[Notice, ...]
    not_made: tuple[Notice, ...]
    skipped: tuple[Skipped, ...]
    left_out: int
    blanks: int
    lines: tuple[LineRow, ...]
    beyond: int
    counts: tuple[int, int, int]
    to_record: int
    may_take: bool
    faults: tuple[FieldFault, ...]
    cautions: tuple[Caution, ...]


class Look:
    """A file that was sent, as it is read now by what the county keeps and what the form says."""

    def __init__(self, ask: Ask, digest: str) -> None:
        self.ask = ask
        self.upload = _upload(ask, digest)
        election = ask.folder.election()
        if election is None:
            raise Trouble(409, N_("The county's tables cannot be read."), N_("See what is open."), "/open")
        self.election = election
        self.county: County = county_of(election, ask.folder.current())
        self.digest = digest
        what = ask.query.get("what", "")
        self.target = Target(what) if what in {one.value for one in Target} else None
        file = HeldFile(self.upload.name, self.upload.data)
        self.file: FileRead = read_count_file(ask.folder.path, file, self.county, target=self.target)
        wanted = ask.query.get("sheet", "")
        self.sheet: SheetRead | None = (
            None
            if any(is_fault(one) for one in self.file.notices)
            else self.file.sheet(wanted) or self.file.sheet("")
        )

    def preview(self, mapping: CountMapping) -> Preview | None:
        """The numbers by a mapping; None where its columns are not enough."""
        if self.sheet is None or mapping.faults():
            return None
        return preview(self.sheet.table, mapping, self.county, self.ask.folder.fold())

    def address(self, **more: str) -> str:
        """This page, of this table, as confirmed."""
        from urllib.parse import urlencode

        sheet = self.ask.query.get("sheet", "")
        query = urlencode({k: v for k, v in {"sheet": sheet, **more}.items() if v})
        return f"/counts/import/{self.digest}" + (f"?{query}" if query else "")


def _upload(ask: Ask, digest: str) -> Upload:
    upload = ask.folder.uploads.get(digest)
    if upload is None:
        raise Trouble(
            404, N_("This file is not held any more."), N_("Send the file again."), "/counts/import"
        )
    return upload


def file_page(look: Look, mapping: CountMapping | None, faults: tuple[FieldFault, ...] = ()) -> CountFilePage:
    """The page of a file, by a mapping; None where no table of it can be read."""
    ask, sheet = look.ask, look.sheet
    found = None if mapping is None else look.preview(mapping)
    read = None if found is None else found.read
    plain = ask.speak.plain
    table = None if sheet is None else sheet.table
    lines = () if found is None else found.lines
    ordered = sorted(
        lines, key=lambda line: tuple(MARKS).index(line.standing) if line.standing in MARKS else 9
    )
    first = [line for line in ordered if line.standing is Standing.DIFFERS]
    ordered = first + [line for line in ordered if line.standing is not Standing.DIFFERS]
    names = {site.id: site.name for site in look.election.sites}
    unknown = () if read is None else read.unknown
    confirmed = sheet is not None and (sheet.confirmed or bool(table and table.standard)) and not faults
    return CountFilePage(
        **ask.frame(N_("What does {name} say?"), name=look.upload.name),
        digest=look.digest,
        sheets=tuple((one.table.name, one.table.hidden) for one in look.file.sheets),
        sheet=table.name if table else "",
        unread=tuple(one for one in look.file.notices if is_fault(one)),
        remarks=tuple(one for one in look.file.notices if not is_fault(one)),
        rows=len(table.rows) if table else 0,
        header_row=table.header_row if table else 0,
        standard=table.standard if table else "",
        confirmed=confirmed,
        confirmed_by=_by(ask, mapping),
        columns=() if mapping is None or sheet is None else _columns(sheet, mapping),
        uses=_uses(ask),
        targets=tuple((one.value, plain(TARGET_WORDS[one])) for one in Target),
        target=mapping.target.value if mapping else "",
        quantities=tuple((own, plain(words)) for own, words in QUANTITY_WORDS.items()),
        quantity=mapping.quantity if mapping else "",
        modes=tuple((own, plain(words)) for own, words in MODE_WORDS.items()),
        mode=mapping.mode if mapping else ALL_MODES,
        add_rows=bool(mapping and mapping.add_rows),
        missing=mapping.faults() if mapping else (),
        unknown=tuple(_unknown(look, place, one) for place, one in enumerate(unknown[:MOST_UNKNOWN])),
        more_unknown=max(0, len(unknown) - MOST_UNKNOWN),
        wrong=read.faults if read else (),
        differences=read.differences if read else (),
        not_made=read.not_made if read else (),
        skipped=table.skipped if table else (),
        left_out=read.left_out if read else 0,
        blanks=read.blanks if read else 0,
        lines=tuple(_line(ask, line, names) for line in ordered[:MOST_LINES]),
        beyond=max(0, len(ordered) - MOST_LINES),
        counts=(_n(found, Standing.NEW), _n(found, Standing.DIFFERS), _n(found, Standing.SAME)),
        to_record=len(found.to_record) if found else 0,
        may_take=bool(found and found.read.may_be_taken and found.to_record and confirmed),
        faults=faults,
        cautions=for_place(Place.COUNT_FILES),
    )


def _by(ask: Ask, mapping: CountMapping | None) -> str:
    if mapping is None or not mapping.confirmed_by or not ask.may(Capability.SEE_PEOPLE):
        return ""
    return ask.folder.person_name(mapping.confirmed_by)


def _n(found: Preview | None, standing: Standing) -> int:
    return 0 if found is None else len(found.of(standing))


def _uses(ask: Ask) -> tuple[tuple[str, str], ...]:
    """Everything that a column may hold, by coded word."""
    plain = ask.speak.plain
    found = [(UNUSED, plain(N_("not used")))]
    found += [(role.value, plain(role.value)) for role in (*NAMED, Role.COUNT)]
    found += [(own, plain(words)) for own, words in QUANTITY_WORDS.items()]
    for own, words in QUANTITY_WORDS.items():
        for mode, way in MODE_WORDS.items():
            if mode != ALL_MODES:
                found.append((f"{own}/{mode}", f"{plain(words)}, {plain(way)}"))
    found += [(f"/{mode}", plain(way)) for mode, way in MODE_WORDS.items() if mode != ALL_MODES]
    return tuple(found)


def _columns(sheet: SheetRead, mapping: CountMapping) -> tuple[ColumnRow, ...]:
    words = {use.theirs: word_of(use) for use in mapping.columns}
    table = sheet.table
    return tuple(
        ColumnRow(
            place=place,
            heading=heading,
            samples=tuple(dict.fromkeys(row.cells[place] for row in table.rows[:50] if row.cells[place]))[:3],
            word=words.get(heading, UNUSED),
        )
        for place, heading in enumerate(table.header)
    )


def _unknown(look: Look, place: int, one: Unknown) -> UnknownRow:
    shown = {
        named.id: " ".join(dict.fromkeys(filter(None, (named.id, *named.names[:1]))))
        for named in look.county.names
        if named.role is one.role
    }
    return UnknownRow(
        place=place,
        item=one,
        role=one.role.value,
        nearest=tuple((own, shown.get(own, own)) for own in one.nearest),
        others=tuple((own, words) for own, words in shown.items() if own not in one.nearest),
        chosen=look.ask.form.text(f"name-{place}"),
    )


def _line(ask: Ask, line: ImportLine, names: dict[str, str]) -> LineRow:
    one, plain = line.counted, ask.speak.plain
    return LineRow(
        name=f"{one.subject} {names.get(one.subject, '')}".strip(),
        mode=plain(MODE_WORDS[one.mode]) if one.mode in MODE_WORDS else one.mode,
        quantity=plain(QUANTITY_WORDS[one.quantity]) if one.quantity in QUANTITY_WORDS else one.quantity,
        amount=one.amount,
        styles=one.styles,
        rows=tuple(sorted({part.row for part in one.parts})),
        mark=MARKS[line.standing],
        standing=line.standing.value,
        there=line.there,
        elsewhere=line.elsewhere,
    )


@get("/counts/import/{digest:str}")
@in_thread
def count_file(request: Request[Any, Any, Any], digest: FromPath[str]) -> Response[str]:
    """What a file says."""
    look = Look(Ask(request), digest)
    return answer(look.ask, file_page(look, look.sheet.mapping if look.sheet else None))


@post("/counts/import/{digest:str}")
@in_thread
def take_counts(request: Request[Any, Any, Any], digest: FromPath[str]) -> Response[Any]:
    """Keep how the file is read, or record its numbers."""
    look = Look(Ask(request), digest)
    if look.sheet is None:
        return answer(look.ask, file_page(look, None), 422)
    if look.ask.form.text("do") == "take":
        return _take(look, look.sheet)
    return _confirm(look, look.sheet)


def _confirm(look: Look, sheet: SheetRead) -> Response[Any]:
    ask, form = look.ask, look.ask.form
    target = form.text("target")
    faults: list[FieldFault] = []
    columns: list[ColumnUse] = []
    for place, heading in enumerate(sheet.table.header):
        try:
            use = column_said(heading, form.text(f"column-{place}"))
        except NotUnderstood as error:
            faults.append(FieldFault(field=f"column-{place}", words=error.said))
        else:
            columns += [use] if use is not None else []
    mapping = CountMapping(
        header=sheet.mapping.header,
        target=Target(target) if target in {one.value for one in Target} else sheet.mapping.target,
        columns=tuple(columns),
        names=together(sheet.mapping.names, _names(look)),
        quantity=form.text("quantity") if form.text("quantity") in QUANTITY_WORDS else "",
        mode=form.text("mode") if form.text("mode") in MODE_WORDS else ALL_MODES,
        add_rows=form.text("add_rows") == "yes",
    )
    faults += [FieldFault(field="column-0", words=message(sentence)) for sentence in mapping.faults()]
    if faults:
        return answer(ask, file_page(look, mapping, tuple(faults)), 422)
    try:
        with ask.folder.at_desk(ask.person()) as (desk, people, moment):
            confirm_mapping(desk, ask.folder.path, mapping, people=people, moment=moment)
    except ValueError as error:
        fault = FieldFault(field="column-0", words=message("{words}", words=str(error)))
        return answer(ask, file_page(look, mapping, (fault,)), 409)
    return go(look.address())


def _names(look: Look) -> tuple[NameUse, ...]:
    """What the form says of names; only ids that the county has, and rows left out."""
    form = look.ask.form
    ids: dict[Role, set[str]] = {}
    for named in look.county.names:
        ids.setdefault(named.role, set()).add(named.id)
    found = []
    for field in form:
        matched = _FIELD.fullmatch(field)
        if matched is None or not form.text(field):
            continue
        role, text = form.text(f"role-{matched[1]}"), form.text(f"text-{matched[1]}")
        if role not in {one.value for one in NAMED}:
            continue
        chosen = form.text(field)
        if chosen == LEFT_OUT:
            found.append(NameUse(role=Role(role), theirs=text, ours=""))
        elif chosen in ids.get(Role(role), set()):
            found.append(NameUse(role=Role(role), theirs=text, ours=chosen))
    return tuple(found)


def _take(look: Look, sheet: SheetRead) -> Response[Any]:
    ask = look.ask
    found = look.preview(sheet.mapping)
    refused = message(N_("Nothing was recorded: names or cells are left that need another look."))
    if found is None or not (sheet.confirmed or sheet.table.standard):
        fault = FieldFault(field="column-0", words=message(N_("Keep the columns first.")))
        return answer(ask, file_page(look, sheet.mapping, (fault,)), 422)
    try:
        with ask.folder.at_desk(ask.person()) as (desk, people, moment):
            if not sheet.confirmed:
                confirm_mapping(desk, ask.folder.path, sheet.mapping, people=people, moment=moment)
            written = take(desk, found, look.file, people=people, moment=moment)
    except NothingToTake:
        return answer(ask, file_page(look, sheet.mapping, (FieldFault(field="take", words=refused),)), 409)
    except ValueError as error:
        fault = FieldFault(field="take", words=message("{words}", words=str(error)))
        return answer(ask, file_page(look, sheet.mapping, (fault,)), 409)
    ask.folder.uploads.drop(look.digest)
    return go(f"/counts/import?done=taken-{len(written)}")
