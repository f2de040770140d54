"""What the sheets say: order of hands, blank where they must be, the county rules' word."""

from __future__ import annotations

import json

import msgspec
import pytest
from msgspec.structs import replace

from pollstead.election.county import Assumption
from pollstead.election.station_type import (
    ClockCheck,
    Closure,
    LineKind,
    MemoryDevices,
    Moment,
    NumberPolicy,
    SheetLine,
)
from pollstead.election.words import message
from pollstead.plan.terms.version import SheetKind
from pollstead.show.packet.content import FieldKind, Heading
from pollstead.show.packet.packet import expected, packet, texts
from pollstead.show.packet.wording import CALL_THE_OFFICE, OUT_OF_SERVICE, RECORD_AND_GO_ON


def sheets(made, kind):
    """The sheets of one kind, in order."""
    return [sheet for sheet in made.sheets if sheet.kind is kind]


def steps(sheet, at=0):
    """The words of the steps of an opening or closing sheet; `at` counts its tables."""
    tables = [b for b in sheet.blocks if type(b).__name__ == "Table"]
    return [row[0].words for row in tables[at].rows if row[0].line]


def of_scanner(made, kind):
    """The sheet on which site S01's single scanner stands, and the whole site's own lines."""
    return next(s for s in sheets(made, kind) if "Scanner 1" in s.about)


def cells(sheet):
    """All cells of a sheet's tables."""
    return [c for b in sheet.blocks if type(b).__name__ == "Table" for row in b.rows for c in row]


def plain(made):
    """A print job as text, for looking for what must not stand there."""
    return json.dumps(msgspec.to_builtins(made), ensure_ascii=False)


def secrets(version, site):
    """Every serial, seal number and memory device of a site."""
    found = set()
    for station in version.site(site).stations:
        found.update(p.serial for p in station.parts if p.serial)
        found.update(m for p in station.parts for m in p.memory_devices)
        found.update(s.number for s in station.seals if s.number)
        found.update(str(p.lifetime_counter) for p in station.parts if p.lifetime_counter is not None)
    return found


@pytest.mark.full
@pytest.mark.parametrize("site", ["S01", "S02"])
def test_blank_sheets_hold_no_number_to_be_read_independently(sample, pages_of, site):
    """No serial, seal number, memory device or lifetime counter of the site stands in the packet's pages."""
    numbers = secrets(sample.plan(), site)
    assert len(numbers) > 10
    text = pages_of(site).text
    assert [number for number in numbers if number in text] == []
    assert [number for number in numbers if number in plain(pages_of(site).made)] == []


@pytest.mark.parametrize("site", ["S01", "S02"])
def test_expected_list_holds_every_number(sample, pages_of, site):
    """Every serial, memory device, lifetime counter and recorded seal number stands in the expected list."""
    text = pages_of(site, what="expected").text
    assert [number for number in sorted(secrets(sample.plan(), site)) if f" {number} " not in text] == []


def test_codes_carry_nothing_but_sheet_serials(sample):
    """A sheet's serial follows from plan, site and sheet alone: other seal numbers leave it as it is."""
    version = sample.plan()
    site = version.site("S01")
    other_seals = tuple(
        replace(s, seals=tuple(replace(seal, number=seal.number and "0099999") for seal in s.seals))
        for s in site.stations
    )
    changed = replace(version, sites=(replace(site, stations=other_seals), *version.sites[1:]))
    first = packet(sample.given("S01", version=version))
    second = packet(sample.given("S01", version=changed))
    assert [s.serial for s in first.sheets] == [s.serial for s in second.sheets]
    assert first == second, "nothing on a blank sheet follows from a seal's number"


def test_a_number_in_a_name_stops_the_print(sample):
    """A site whose own words tell a serial is not printed: the message says what to change."""
    election = sample.county()
    named = replace(
        election, sites=(replace(election.sites[0], address="behind LM-V-0009"), *election.sites[1:])
    )
    with pytest.raises(ValueError, match=r"'S01'.*independently.*take it out"):
        packet(sample.given("S01", election=named))


def test_a_zip_code_that_is_also_a_seal_number_stops_nothing(sample):
    """Five digits in an address are a ZIP code, even where some seal has the same number."""
    version, election = sample.plan(), sample.county()
    site = version.site("S01")
    short = tuple(
        replace(s, seals=tuple(replace(seal, number="48001") for seal in s.seals)) for s in site.stations
    )
    changed = replace(version, sites=(replace(site, stations=short), *version.sites[1:]))
    zipped = replace(election.sites[0], address="1 Civic Square, Port Ansel 48001")
    named = replace(election, sites=(zipped, *election.sites[1:]))
    assert "48001" in plain(packet(sample.given("S01", election=named, version=changed)))


def test_a_short_tag_that_is_the_serial_is_left_out(sample):
    """A tag of three digits that is the device's serial does not stand on a blank sheet."""
    version = sample.plan()
    site = version.site("S01")
    tagged = tuple(
        replace(s, parts=tuple(replace(p, serial="771", tag="771") for p in s.parts)) for s in site.stations
    )
    packing = tuple(replace(line, tags=("771", "772")) for line in site.packing)
    changed = replace(version, sites=(replace(site, stations=tagged, packing=packing), *version.sites[1:]))
    told = " ".join(texts(packet(sample.given("S01", version=changed))))
    assert "771" not in told and "772" in told


def test_a_tag_that_is_the_serial_is_left_out(sample):
    """Where a county's tags are its serials, the tags do not stand on blank sheets."""
    version = sample.plan()
    site = version.site("S01")
    tagged = tuple(replace(s, parts=tuple(replace(p, tag=p.serial) for p in s.parts)) for s in site.stations)
    packing = tuple(replace(line, tags=("LM-V-0009", "LM-TAG-1")) for line in site.packing)
    changed = replace(version, sites=(replace(site, stations=tagged, packing=packing), *version.sites[1:]))
    made = packet(sample.given("S01", version=changed))
    assert "LM-V-0009" not in plain(made)
    assert "LM-TAG-1" in plain(made)


def test_order_is_the_order_in_which_hands_move(sample):
    """Cover, packing, run sheet, lines; openings in the voter's order; seals; closings; balance last."""
    made = packet(sample.given("S01"))
    assert [(s.kind.name, s.about) for s in made.sheets] == [
        ("COVER", "Hand-marked paper with scanner"),
        ("PACKING", ""),
        ("RUN", ""),
        ("LINES", ""),
        ("OPENING", "Pair 1: Check-in station 1 to 2"),
        ("OPENING", "Pair 2: Scanner 1 · The whole site"),
        ("SEALS", ""),
        ("CLOSING", "Pair 1: Check-in station 1 to 2"),
        ("CLOSING", "Pair 2: Scanner 1 · The whole site"),
        ("BALANCE", ""),
    ]


def test_what_the_whole_site_does_first_leads_its_sheet_and_a_minute_has_its_boxes(sample):
    """The phone before the first seal, the end of the line before the first count; the minute is written.

    Common practice, no source; varies by county: without `before` the same lines stand after the devices.
    """
    election = sample.county()
    (kind,) = (k for k in election.site_kinds if k.site_opening == sample.KIND.site_opening)
    phone, aloud = kind.site_opening
    first = (replace(phone, before=True), replace(aloud, kind=LineKind.MINUTE))
    kinds = tuple(replace(k, site_opening=first) if k == kind else k for k in election.site_kinds)
    made = packet(sample.given("S01", election=replace(election, site_kinds=kinds)))
    opening = of_scanner(made, SheetKind.OPENING)
    assert opening.about == "Pair 2: Scanner 1 · The whole site"
    heads = [b.words.partition(" · ")[0] for b in opening.blocks if isinstance(b, Heading)]
    assert heads == ["First of all", "Scanner 1", "The whole site"]
    assert steps(opening, 0) == [phone.words] and steps(opening, 2)[-1] == aloud.words
    fields = [f.kind for c in cells(opening) for f in c.fields]
    assert fields[-1] is FieldKind.TIME, "the minute has boxes, not a tick"
    assert steps(of_scanner(packet(sample.given("S01")), SheetKind.OPENING), 1)[0] == phone.words


def test_opening_lines_stand_in_the_station_types_order(sample):
    """The steps of the scanner's opening sheet are the type's lines, in order, closures once per seal."""
    made = packet(sample.given("S01"))
    scanner = of_scanner(made, SheetKind.OPENING)
    found = steps(scanner)
    wanted = []
    for line in sample.SCANNER.opening:
        seals = next((c.seals for c in sample.SCANNER.closures if c.id == line.ref), 1)
        wanted += [line.words] * seals
    assert len(found) == len(wanted)
    assert all(words.startswith(line) for words, line in zip(found, wanted, strict=True))


def test_many_devices_are_shared_evenly_among_pairs(sample):
    """More devices than one pair takes stand on even sheets, side by side, each of them once and in order."""
    made = packet(sample.given("S02"))
    shared = [s for s in sheets(made, SheetKind.OPENING) if "Scanner" in s.about]
    assert [s.about for s in shared] == [
        "Pair 2: Scanner 1 to 4",
        "Pair 3: Scanner 5 to 7 · The whole site",
    ]
    tables = [b for s in shared for b in s.blocks if type(b).__name__ == "Table"]
    titles = [c.title.split("\n")[0] for table in tables for c in table.columns[1:] if "Scanner" in c.title]
    assert titles == [f"Scanner {n}" for n in range(1, 8)]


def test_many_devices_with_few_lines_have_a_row_each(sample):
    """Where the type's lines fit across, each of many devices has a row and each line a column, in order."""
    made = packet(sample.given("S02"))
    closing = next(s for s in sheets(made, SheetKind.CLOSING) if "Check-in" in s.about)
    (table,) = [b for b in closing.blocks if type(b).__name__ == "Table"]
    assert [row[0].words.split("\n")[0] for row in table.rows] == ["1", "2", "3", "4", "5"]
    words = [line.words for line in sample.CHECK_IN.closing]
    assert [c.title[: len(w)] for c, w in zip(table.columns[1:], words, strict=True)] == words
    assert all(len(row) == 1 + len(words) for row in table.rows)


def test_a_site_of_several_days_has_one_sheet_a_day_with_a_block_for_each_pair(sample):
    """Opening and closing of a day are one sheet each; its blocks are named by pairs."""
    made = packet(several_days(sample))
    for kind in (SheetKind.OPENING, SheetKind.CLOSING):
        assert [s.key for s in sheets(made, kind)] == [f"{kind.name}/2028-11-0{day}/all" for day in (6, 7)]
    blocks = [b.words for b in sheets(made, SheetKind.OPENING)[0].blocks if type(b).__name__ == "Heading"]
    assert [b.split(" · ")[0] for b in blocks] == [
        "Pair 1: Check-in station 1 to 2",
        "Pair 2: Scanner 1",
        "The whole site",
    ]


def several_days(sample):
    """Site S01 of two operating days."""
    import datetime as dt

    election, version = sample.county(), sample.plan()
    days = (sample.DAY - dt.timedelta(days=1), sample.DAY)
    hours = tuple(replace(election.sites[0].hours[0], date=day) for day in days)
    demand = tuple(replace(version.sites[0].demand[0], date=day) for day in days)
    election = replace(election, sites=(replace(election.sites[0], hours=hours), *election.sites[1:]))
    version = replace(version, sites=(replace(version.sites[0], demand=demand), *version.sites[1:]))
    return sample.given("S01", election=election, version=version)


def changed_county(sample, scanner):
    """The sample with another scanner type; its site's stations and seals made from it."""
    election = sample.county()
    types = tuple(scanner if t.id == scanner.id else t for t in election.station_types)
    return replace(election, station_types=types)


def with_closure(sample):
    """The scanner type with one more closure, looked at first when opening."""
    extra = Closure(id="port", name="port cover", part="scanner", seal_kind="wire seal")
    line = SheetLine(kind=LineKind.CLOSURE, ref="port", words="Read the seal on the port cover")
    scanner = replace(
        sample.SCANNER, closures=(*sample.SCANNER.closures, extra), opening=(line, *sample.SCANNER.opening)
    )
    return changed_county(sample, scanner), scanner


def test_one_more_closure_changes_the_opening_sheets_of_its_type_alone(sample):
    """A closure added to a station type changes that type's opening sheets and no other blank sheet but the
    seal sheet."""
    election, scanner = with_closure(sample)
    version = sample.plan()
    site = version.site("S01")
    stations = tuple(
        replace(s, seals=sample.seals_of(scanner, s.parts[0].device, 48_450))
        if s.station_type == scanner.id
        else s
        for s in site.stations
    )
    changed = replace(version, sites=(replace(site, stations=stations), *version.sites[1:]))
    before = packet(sample.given("S01"))
    after = packet(sample.given("S01", election=election, version=changed))
    different = {(a.kind.name, a.about) for a, b in zip(before.sheets, after.sheets, strict=True) if a != b}
    assert different == {("OPENING", "Pair 2: Scanner 1 · The whole site"), ("SEALS", "")}
    opening = of_scanner(after, SheetKind.OPENING)
    assert "port cover" in steps(opening)[0]


def test_an_absent_step_leaves_no_empty_box(sample):
    """A type without clock, memory devices and reports prints no line and no rule about them."""
    bare = replace(
        sample.SCANNER,
        clock=None,
        memory_devices=MemoryDevices(),
        opening=tuple(
            line
            for line in sample.SCANNER.opening
            if line.kind in (LineKind.SERIAL, LineKind.CLOSURE, LineKind.ACT)
        ),
    )
    made = packet(sample.given("S01", election=changed_county(sample, bare)))
    opening = of_scanner(made, SheetKind.OPENING)
    told = " ".join(texts(opening))
    for word in ("Clock", "counter", "clock", "report"):
        assert word not in told
    assert not any(f.kind is FieldKind.TIME for c in cells(opening) for f in c.fields)


@pytest.mark.parametrize(
    ("lead", "words"),
    [
        (5, "Must be 5 min ahead of the check-in clock, give or take 1 min."),
        (0, "Must show the same as the check-in clock, give or take 1 min."),
        (-3, "Must be 3 min behind the check-in clock, give or take 1 min."),
    ],
)
def test_clock_line_says_the_types_own_lead_and_tolerance(sample, lead, words):
    """Lead and tolerance come from the station type (common practice, no source; varies by county)."""
    clock = ClockCheck(reference="check-in clock", lead_min=lead, tolerance_min=1)
    made = packet(sample.given("S01", election=changed_county(sample, replace(sample.SCANNER, clock=clock))))
    opening = of_scanner(made, SheetKind.OPENING)
    assert any(words in step for step in steps(opening))


def foot_of(sheet):
    """What to do when something differs, at the foot of each of the sheet's pages."""
    return sheet.foot


def test_what_to_do_is_the_county_rules_word_on_the_same_page(sample, pages_of):
    """Confirmed rules say what the county chose; a rule nobody has confirmed says: call the office."""
    confirmed = packet(sample.given("S01"))
    opening = of_scanner(confirmed, SheetKind.OPENING)
    actions = {pair.when: pair.do for pair in foot_of(opening).pairs}
    assert actions == {
        "A serial · A seal's number, no whole seal, or a closure that is not shut": OUT_OF_SERVICE,
        "Clock or date": RECORD_AND_GO_ON,
        "A counter or the zero report": CALL_THE_OFFICE,
    }
    asked = packet(sample.given("S01", election=sample.county(confirmed=False)))
    opening = of_scanner(asked, SheetKind.OPENING)
    assert [pair.do for pair in foot_of(opening).pairs] == [CALL_THE_OFFICE]
    for site in ("S01", "S02"):
        for text in pages_of(site).of_kind(SheetKind.OPENING):
            if "First reader" in text or " 1st " in text:
                assert " If it differs " in text


def test_second_reader_is_asked_only_where_rule_or_line_asks(sample):
    """With the county's rule off, a line that names a second person still has two columns, others one."""
    from pollstead.election.rules import CountyRules, RuleSetting

    election = sample.county()
    off = RuleSetting(rule="second-person-at-opening", value="no", confirmed_by="Ida Fenwright")
    election = replace(election, rules=CountyRules(settings=(*election.rules.settings, off)))
    made = packet(sample.given("S01", election=election))
    table = next(b for b in of_scanner(made, SheetKind.OPENING).blocks if type(b).__name__ == "Table")
    assert [c.title for c in table.columns] == ["What to do", "Write or tick", "Compared"]
    line = replace(sample.SCANNER.opening[1], second_person=True)
    scanner = replace(sample.SCANNER, opening=(sample.SCANNER.opening[0], line, *sample.SCANNER.opening[2:]))
    types = tuple(scanner if t.id == scanner.id else t for t in election.station_types)
    made = packet(sample.given("S01", election=replace(election, station_types=types)))
    opening = of_scanner(made, SheetKind.OPENING)
    table = next(b for b in opening.blocks if type(b).__name__ == "Table")
    assert [c.title for c in table.columns] == ["What to do", "First reader", "Second reader", "Compared"]
    assert [len(row) for row in table.rows[:2]] == [3, 4]


def test_seals_ticked_after_resealing_ask_for_no_number(sample):
    """A closure whose new seal is only ticked gets a tick box at closing, a recorded one digit boxes."""
    made = packet(sample.given("S01"))
    check_ins = next(s for s in sheets(made, SheetKind.CLOSING) if "Check-in" in s.about)
    ticked = [c for c in cells(check_ins) if any(f.label == "new seal on" for f in c.fields)]
    assert len(ticked) == 2 and all([f.kind for f in c.fields] == [FieldKind.TICK] for c in ticked)
    scanner = steps(of_scanner(made, SheetKind.CLOSING))
    assert any("New seal" in words and "number of the new seal" in words for words in scanner)
    assert sample.SCANNER.closures[0].resealed_number is NumberPolicy.RECORDED


def test_digit_boxes_tell_nothing_of_the_number(sample):
    """Boxes are as many as the longest number of the county's kind, whatever this one's length is."""
    given = sample.given("S01")
    assert given.boxes.seal("pull-tight seal") == 7
    assert given.boxes.seal("a kind never told") == 8
    made = packet(given)
    counts = {
        f.count
        for s in sheets(made, SheetKind.OPENING)
        for c in cells(s)
        for f in c.fields
        if f.kind is FieldKind.BOXES
    }
    assert counts <= {given.boxes.seal("pull-tight seal"), given.boxes.counter, given.boxes.serial}


def test_cover_marks_assumptions_notices_and_unconfirmed_rules(sample):
    """What nobody has told, what is open and which rules to ask about stand on the first sheet."""
    cover = packet(sample.given("S01")).sheets[0]
    told = " ".join(texts(cover))
    for words in (
        "outlets",
        "no list of rooms was given",
        "Only 1 person can open the building",
        "Name a second person who has a key",
        "fixed: one more near the second door",
        "A ballot whose voter left before casting it",
        "open 07:00 to 20:00",
        "Ida Fenwright",
        "555-0110",
    ):
        assert words in told, words
    assert "Only 1 person" not in " ".join(texts(packet(sample.given("S02")).sheets[0]))


def test_run_sheet_is_timed_back_from_the_doors_when_access_is_late(sample):
    """No step begins after the doors open; a building that opens too late is said, with the time needed."""
    election = sample.county()
    late = replace(election, sites=tuple(replace(s, access_from_min=410) for s in election.sites))
    run = sheets(packet(sample.given("S01", election=late)), SheetKind.RUN)[0]
    told = " ".join(texts(run))
    assert "Be in by 06:24; the building is open to the crew from 06:50 only" in told
    assert "06:24" in [c.words for c in cells(run)]  # 36 minutes before 07:00
    early = " ".join(texts(sheets(packet(sample.given("S01")), SheetKind.RUN)[0]))
    assert "The building is open to the crew from 05:00." in early


def test_critical_steps_are_marked_by_word_and_shape(sample):
    """A step without time to spare has the words and the drawn sign; the others have neither."""
    run = sheets(packet(sample.given("S01")), SheetKind.RUN)[0]
    marked = [c for c in cells(run) if c.mark.value == "critical"]
    critical = [s for s in sample.plan().site("S01").run_sheet if s.critical]
    assert len(marked) == len(critical) > 0
    assert {c.words for c in marked} == {"no time to spare"}


def test_each_operating_day_has_its_own_sheets(sample):
    """A site of two days gets opening, closing and balance sheets for each, with the day on them."""
    given = several_days(sample)
    made = packet(given)
    for kind in (SheetKind.OPENING, SheetKind.CLOSING, SheetKind.BALANCE):
        assert [s.day for s in sheets(made, kind)] == ["Mon, Nov 6, 2028", "Tue, Nov 7, 2028"]
    # The same seals are looked at on both days: one sheet with a column for each.
    (seals,) = sheets(made, SheetKind.SEALS)
    assert seals.day == "Mon, Nov 6, 2028 to Tue, Nov 7, 2028"
    assert len({s.serial for s in made.sheets}) == len(made.sheets)
    assert [s.day for s in expected(given).sheets] == ["Mon, Nov 6, 2028", "Tue, Nov 7, 2028"]


def test_packet_of_another_plan_version_has_other_serials(sample):
    """A sheet's serial belongs to one plan version, one language and one kind of election."""
    serials = [
        {s.serial for s in packet(given).sheets}
        for given in (
            sample.given("S01"),
            sample.given("S01", digest="0" * 64),
            sample.given("S01", language="en-XA"),
            sample.given("S01", election=sample.county(practice=True)),
        )
    ]
    for at, one in enumerate(serials):
        assert all(one.isdisjoint(other) for other in serials[at + 1 :])


def test_letters_without_a_glyph_stop_the_print(sample):
    """A name in a script that no font here holds is refused with its letters, and not printed as boxes."""
    election = sample.county()
    named = replace(election, sites=(replace(election.sites[0], name="投票所"), *election.sites[1:]))
    with pytest.raises(ValueError, match=r"U\+6295"):
        packet(sample.given("S01", election=named))


def test_only_the_kinds_asked_for_are_printed(sample):
    """Kinds choose sheets; a packet without any of them is none at all."""
    given = sample.given("S01")
    made = packet(given, (SheetKind.OPENING, SheetKind.CLOSING))
    assert {s.kind for s in made.sheets} == {SheetKind.OPENING, SheetKind.CLOSING}
    assert packet(given, ()) is None
    with pytest.raises(ValueError, match="letter, a4"):
        packet(given, paper="legal")


def test_moment_of_a_seal_check_on_later_days_follows_the_record(sample):
    """On a later day a closure sealed anew at the site, its number ticked, is ticked and not read."""
    from pollstead.show.packet.station_lines import When, station_lines

    kind = sample.CHECK_IN
    given = sample.given("S01")
    first = station_lines(given, kind, kind.opening, When(moment=Moment.OPENING, day=0, days=2))
    later = station_lines(given, kind, kind.opening, When(moment=Moment.OPENING, day=1, days=2))
    assert first[0].number and not later[0].number


def test_every_assumption_of_the_county_stands_on_the_cover(sample):
    """Rule defaults, arrivals and service times of types that stand here; none of a type that does not."""
    county_wide = (
        Assumption(
            subject="rule/wait-risk",
            field="value",
            value="50000 ppm",
            why=message("x"),
            list_wanted="rules.toml",
        ),
        Assumption(
            subject="county",
            field="arrivals",
            value="a usual day",
            why=message("x"),
            list_wanted="arrivals.csv",
        ),
        Assumption(subject="station_type/check-in", field="service", value="90 s", why=message("x")),
        Assumption(subject="station_type/elsewhere", field="service", value="77 s", why=message("x")),
    )
    version = msgspec.structs.replace(sample.plan(), assumptions=county_wide)
    types = [t.id for t in sample.county().station_types]
    version = msgspec.structs.replace(
        version,
        assumptions=(
            *county_wide[:2],
            msgspec.structs.replace(county_wide[2], subject=f"station_type/{types[0]}"),
            county_wide[3],
        ),
    )
    told = " ".join(texts(packet(sample.given("S01", version=version)).sheets[0]))
    for words in (
        "Assumed for the whole county",
        "rules.toml would tell",
        "Chance accepted that the day's longest wait passes the limit: 5 %",
        "arrivals: a usual day",
        "mean time of a voter: 90 s",
    ):
        assert words in told, words
    assert "77 s" not in told


def test_hours_past_midnight_are_said_as_a_person_says_them(sample):
    """Closing at 25:30 of the operating day is 01:30 the next day."""
    election = sample.county()
    late = tuple(
        msgspec.structs.replace(s, hours=(msgspec.structs.replace(s.hours[0], closes_min=1530),))
        for s in election.sites
    )
    plan = sample.plan()
    longer = tuple(
        msgspec.structs.replace(
            s, demand=tuple(msgspec.structs.replace(d, closes_min=1530) for d in s.demand)
        )
        for s in plan.sites
    )
    given = sample.given(
        "S01",
        election=msgspec.structs.replace(election, sites=late),
        version=msgspec.structs.replace(plan, sites=longer),
    )
    assert "open 07:00 to 01:30 the next day" in " ".join(texts(packet(given).sheets[0]))
