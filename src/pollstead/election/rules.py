"""County rules: a closed registry in code; the county sets parameters, level, source, confirmation.

Law, directive and local policy are data. An item that nobody confirmed prints "call the office".
"""

from __future__ import annotations

import datetime as dt
import enum

from pollstead.election.calendar import WorkingWeek
from pollstead.election.fleet import EarlyDevices
from pollstead.election.values import Value, require, require_unique
from pollstead.election.words import N_


class RuleLevel(enum.StrEnum):
    """Where a county's value of a rule comes from."""

    LAW = "law"
    DIRECTIVE = "directive"
    POLICY = "policy"
    ASSUMED = "assumed"


class ParameterType(enum.StrEnum):
    """What kind of value the rule's parameter is."""

    WHOLE = "whole number"
    SHARE = "share in parts per million"
    YES_NO = "yes or no"
    CHOICE = "choice"
    TEXT = "text"


class Stricter(enum.StrEnum):
    """Which direction of the parameter is stricter."""

    LOWER = "lower"
    HIGHER = "higher"
    NEITHER = "neither"


class Rule(Value, frozen=True, kw_only=True):
    """One entry of the registry: what the parameter means, its default and where that is from."""

    id: str
    words: str
    type: ParameterType
    unit: str
    default: int | str
    citation: str
    stricter: Stricter
    who_decides: str
    choices: tuple[str, ...] = ()
    most: int | None = None


_OUR_DEFAULT = "common practice, no source; varies by county"
_OFFICIAL = "election official"

REGISTRY: tuple[Rule, ...] = (
    Rule(
        id="wait-limit",
        words=N_("Longest wait that a voter should have"),
        type=ParameterType.WHOLE,
        unit="min",
        default=30,
        citation="Presidential Commission on Election Administration, report of January 2014, p. 13",
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="wait-risk",
        words=N_("Chance accepted that the day's longest wait passes the limit"),
        type=ParameterType.SHARE,
        unit="ppm",
        default=50_000,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="accessible-stations",
        words=N_("Accessible voting stations at each site, at least"),
        type=ParameterType.WHOLE,
        unit="stations",
        default=1,
        citation="52 U.S.C. 21081(a)(3)(B) (Help America Vote Act, section 301)",
        stricter=Stricter.HIGHER,
        who_decides="counsel",
    ),
    Rule(
        id="accessible-share",
        words=N_("Share of voters who use an accessible voting station"),
        type=ParameterType.SHARE,
        unit="ppm",
        default=20_000,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="opening-line-share",
        words=N_("Share of the day's voters in line when the doors open"),
        type=ParameterType.SHARE,
        unit="ppm",
        default=20_000,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="break-length",
        words=N_("Break of each worker at check-in, whose station takes nobody meanwhile; 0: none"),
        type=ParameterType.WHOLE,
        unit="min",
        default=0,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=240,
    ),
    Rule(
        id="break-after-opening",
        words=N_("Time from opening during which no break begins"),
        type=ParameterType.WHOLE,
        unit="min",
        default=120,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=2_880,
    ),
    Rule(
        id="break-before-closing",
        words=N_("Time to closing by which all breaks are over"),
        type=ParameterType.WHOLE,
        unit="min",
        default=120,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=2_880,
    ),
    Rule(
        id="check-in-short",
        words=N_("Check-in stations beyond the first that nobody staffs in the slow hours; 0: none"),
        type=ParameterType.WHOLE,
        unit="stations",
        default=0,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=100,
    ),
    Rule(
        id="check-in-short-from",
        words=N_("When the slow hours begin, counted from opening"),
        type=ParameterType.WHOLE,
        unit="min",
        default=120,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=2_880,
    ),
    Rule(
        id="check-in-short-for",
        words=N_("How long the slow hours last"),
        type=ParameterType.WHOLE,
        unit="min",
        default=120,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=2_880,
    ),
    Rule(
        id="jam-chance",
        words=N_("Share of ballots that jam while they are cast; 0: none"),
        type=ParameterType.SHARE,
        unit="ppm",
        default=0,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=1_000_000,
    ),
    Rule(
        id="jam-time",
        words=N_("Time that it takes to clear a jam"),
        type=ParameterType.WHOLE,
        unit="min",
        default=2,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=240,
    ),
    Rule(
        id="curbside-share",
        words=N_("Share of voters who vote at the curb; 0: none"),
        type=ParameterType.SHARE,
        unit="ppm",
        default=0,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=1_000_000,
    ),
    Rule(
        id="curbside-time",
        words=N_("Time that a voter at the curb is served"),
        type=ParameterType.WHOLE,
        unit="min",
        default=15,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=240,
    ),
    Rule(
        id="curbside-stations",
        words=N_("Voters at the curb who can be served at once"),
        type=ParameterType.WHOLE,
        unit="voters",
        default=1,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=100,
    ),
    Rule(
        id="accessible-open",
        words=N_("Accessible voting stations that are idle serve whoever is next"),
        type=ParameterType.YES_NO,
        unit="",
        default="no",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("yes", "no"),
    ),
    Rule(
        id="line-patience",
        words=N_("Time after which a voter, on average, leaves the line for check-in; 0: nobody does"),
        type=ParameterType.WHOLE,
        unit="min",
        default=0,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=240,
    ),
    Rule(
        id="long-ballot",
        words=N_("How much longer marking and casting take if the ballot is long, a question; 0: not asked"),
        type=ParameterType.WHOLE,
        unit="%",
        default=50,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        most=400,
    ),
    Rule(
        id="sheets-per-ballot",
        words=N_("Sheets of paper that make one ballot"),
        type=ParameterType.WHOLE,
        unit="sheets",
        default=1,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="clock-differs",
        words=N_("When a device's clock or date differs"),
        type=ParameterType.CHOICE,
        unit="",
        default="device out of service",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("device out of service", "record and go on"),
    ),
    Rule(
        id="seal-differs",
        words=N_("When a seal's number differs or a seal is not there"),
        type=ParameterType.CHOICE,
        unit="",
        default="device out of service",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("device out of service", "record and go on"),
    ),
    Rule(
        id="serial-differs",
        words=N_("When a device's serial differs"),
        type=ParameterType.CHOICE,
        unit="",
        default="device out of service",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("device out of service", "record and go on"),
    ),
    Rule(
        id="counter-not-as-expected",
        words=N_("When a counter at opening is not as expected"),
        type=ParameterType.CHOICE,
        unit="",
        default="device out of service",
        citation="VVSG 2.0 (EAC, 2021), requirement 1.1.3-B: counters at zero before first opening",
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("device out of service", "record and go on"),
    ),
    Rule(
        id="second-person-at-opening",
        words=N_("A second person enters opening numbers"),
        type=ParameterType.YES_NO,
        unit="",
        default="no",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("yes", "no"),
    ),
    Rule(
        id="second-person-at-closing",
        words=N_("A second person enters closing numbers"),
        type=ParameterType.YES_NO,
        unit="",
        default="no",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("yes", "no"),
    ),
    Rule(
        id="fled-ballots",
        words=N_("A ballot whose voter left before casting it"),
        type=ParameterType.CHOICE,
        unit="",
        default="held, not cast",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides="counsel",
        choices=("held, not cast", "cast by workers"),
    ),
    Rule(
        id="counts-at-closing",
        words=N_("How often a count is repeated before the difference travels"),
        type=ParameterType.WHOLE,
        unit="times",
        default=2,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="ballots-in-a-pack",
        words=N_("Ballots in a pack as it is delivered; 0 where they come loose"),
        type=ParameterType.WHOLE,
        unit="ballots",
        default=0,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="ballot-surplus",
        words=N_("Ballots beyond the planned number of voters"),
        type=ParameterType.SHARE,
        unit="ppm",
        default=250_000,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="spare-share",
        words=N_("Devices held back as spares"),
        type=ParameterType.SHARE,
        unit="ppm",
        default=50_000,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="spare-run-out",
        words=N_("Chance accepted that a kind of device runs out of spares on a day"),
        type=ParameterType.SHARE,
        unit="ppm",
        default=50_000,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="openers",
        words=N_("People who can each open the building"),
        type=ParameterType.WHOLE,
        unit="people",
        default=2,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="door-clear",
        words=N_("Clear width of a door on the way in, at least"),
        type=ParameterType.WHOLE,
        unit="in",
        default=32,
        citation="2010 ADA Standards for Accessible Design, 404.2.3",
        stricter=Stricter.HIGHER,
        who_decides="ADA coordinator",
    ),
    Rule(
        id="ramp-run",
        words=N_("Length of a ramp for each unit of its height, at least"),
        type=ParameterType.WHOLE,
        unit="times the height",
        default=12,
        citation="2010 ADA Standards for Accessible Design, 405.2",
        stricter=Stricter.HIGHER,
        who_decides="ADA coordinator",
    ),
    Rule(
        id="steep-road",
        words=N_("Grade of a road from which a plan for snow is wanted"),
        type=ParameterType.SHARE,
        unit="ppm",
        default=80_000,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="data-cable",
        words=N_("Longest cable from a wired data port to check-in"),
        type=ParameterType.WHOLE,
        unit="ft",
        default=100,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="morning-set-up",
        words=N_("Time that the crew needs in the building before opening"),
        type=ParameterType.WHOLE,
        unit="min",
        default=60,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="closing-work",
        words=N_("Time from closing until ballots and memory devices leave the site"),
        type=ParameterType.WHOLE,
        unit="min",
        default=90,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="one-scanner-voters",
        words=N_("Most election-day voters for one scanner"),
        type=ParameterType.WHOLE,
        unit="voters",
        default=1_000,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="further-scanner-voters",
        words=N_("Further election-day voters for each further scanner"),
        type=ParameterType.WHOLE,
        unit="voters",
        default=600,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="early-devices",
        words=N_("What becomes of a device that counted early ballots when election day comes"),
        type=ParameterType.CHOICE,
        unit="",
        default=EarlyDevices.APART.value,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=tuple(use.value for use in EarlyDevices),
    ),
    Rule(
        id="working-week",
        words=N_("Days of the week on which the office works"),
        type=ParameterType.CHOICE,
        unit="",
        default=WorkingWeek.MONDAY_TO_FRIDAY.value,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=tuple(week.value for week in WorkingWeek),
    ),
    Rule(
        id="seal-spoil",
        words=N_("Seals that are spoiled while they are put on, beyond those planned"),
        type=ParameterType.SHARE,
        unit="ppm",
        default=50_000,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="tested-before-issue",
        words=N_("Every device tested and sealed by two people before its expected list is issued"),
        type=ParameterType.YES_NO,
        unit="",
        default="yes",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("yes", "no"),
    ),
    Rule(
        id="call-back-first",
        words=N_("Days before election day from which everybody who opens a building is called first"),
        type=ParameterType.WHOLE,
        unit="days",
        default=30,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="call-back-week",
        words=N_("Days before election day from which they are called again"),
        type=ParameterType.WHOLE,
        unit="days",
        default=7,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="call-back-evening",
        words=N_("Days before election day on whose evening they are called for the last time"),
        type=ParameterType.WHOLE,
        unit="days",
        default=1,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="call-back-evening-hour",
        words=N_("Hour from which the last calls are made"),
        type=ParameterType.WHOLE,
        unit="hour of the day",
        default=17,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="receiving-due",
        words=N_("How long after closing a site's things are due at a receiving table"),
        type=ParameterType.WHOLE,
        unit="min",
        default=150,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="leg-grace",
        words=N_("How long after its expected time a thing on its way counts as overdue"),
        type=ParameterType.WHOLE,
        unit="min",
        default=15,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="hand-off-witness",
        words=N_("A witness is named when a thing changes hands"),
        type=ParameterType.YES_NO,
        unit="",
        default="no",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("yes", "no"),
    ),
    Rule(
        id="badge-name",
        words=N_("How much of a person's name stands on a badge"),
        type=ParameterType.CHOICE,
        unit="",
        default="whole name",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("whole name", "first name", "id alone"),
    ),
    Rule(
        id="heard-crew",
        words=N_("How long before opening a site tells that its crew is inside"),
        type=ParameterType.WHOLE,
        unit="min",
        default=45,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="heard-ready-call",
        words=N_("Sites tell when they are ready to open"),
        type=ParameterType.YES_NO,
        unit="",
        default="no",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("yes", "no"),
    ),
    Rule(
        id="heard-ready",
        words=N_("How long before opening a site tells that it is ready to open"),
        type=ParameterType.WHOLE,
        unit="min",
        default=15,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="heard-opened",
        words=N_("How long after the due opening a site has told that its doors are open"),
        type=ParameterType.WHOLE,
        unit="min",
        default=10,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="heard-counts",
        words=N_("Counts that sites phone in during the day"),
        type=ParameterType.CHOICE,
        unit="",
        default="none",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("none", "noon", "hourly"),
    ),
    Rule(
        id="precincts-at-site",
        words=N_("The precincts whose voters may vote at a site, so that their ballot styles are there"),
        type=ParameterType.CHOICE,
        unit="",
        default="every precinct at early voting and where ballots are printed on demand",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=(
            "its own precincts",
            "every precinct at early voting and where ballots are printed on demand",
            "every precinct",
        ),
    ),
    Rule(
        id="both-parties",
        words=N_("When people of two parties must be at a site"),
        type=ParameterType.CHOICE,
        unit="",
        default="not asked",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides="counsel",
        choices=(
            "not asked",
            "while voters vote",
            "while the site closes",
            "from setting up until leaving",
        ),
    ),
    Rule(
        id="cross-check-at",
        words=N_("When check-ins are compared with the public counters while voters are there"),
        type=ParameterType.CHOICE,
        unit="",
        default="none",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("none", "noon", "11:00, 15:00 and 19:00", "hourly"),
    ),
    Rule(
        id="cross-check-inside",
        words=N_("Voters who may be inside between check-in and scanner where nobody counted them, at most"),
        type=ParameterType.WHOLE,
        unit="voters",
        default=40,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="cross-check-play",
        words=N_("Voters by which a comparison during the day may be off, since people move meanwhile"),
        type=ParameterType.WHOLE,
        unit="voters",
        default=3,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="line-stale",
        words=N_("Age at which a counted line says nothing about now any more"),
        type=ParameterType.WHOLE,
        unit="min",
        default=75,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="line-set-up",
        words=N_("How long it takes to put a station to work that stands at the site"),
        type=ParameterType.WHOLE,
        unit="min",
        default=10,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="line-travel",
        words=N_("How long somebody travels to a site where no way is told"),
        type=ParameterType.WHOLE,
        unit="min",
        default=25,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="heard-count",
        words=N_("How long after its hour a count has been phoned in"),
        type=ParameterType.WHOLE,
        unit="min",
        default=30,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="heard-counters",
        words=N_("Public counters that a site tells when it phones in"),
        type=ParameterType.CHOICE,
        unit="",
        default="each device",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("each device", "one total", "none"),
    ),
    Rule(
        id="heard-closed",
        words=N_("How long after closing a site has told that its last voter has voted"),
        type=ParameterType.WHOLE,
        unit="min",
        default=60,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="heard-way-call",
        words=N_("Sites tell when they leave for the receiving table and when they are there"),
        type=ParameterType.YES_NO,
        unit="",
        default="no",
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
        choices=("yes", "no"),
    ),
    Rule(
        id="incident-same-within",
        words=N_("Calls about one thing at one site within this time may be one incident"),
        type=ParameterType.WHOLE,
        unit="min",
        default=20,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="incident-spread-window",
        words=N_("Stretch of time in which the same thing at several sites is looked for"),
        type=ParameterType.WHOLE,
        unit="min",
        default=15,
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="incident-spread-sites",
        words=N_("Sites with the same thing in that stretch, at least, before it is told"),
        type=ParameterType.WHOLE,
        unit="sites",
        default=3,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="incident-spread-chance",
        words=N_("Chance of so many by the day's own rate, at most, for it to be told"),
        type=ParameterType.SHARE,
        unit="ppm",
        default=10_000,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="lost-minutes-told",
        words=N_("Minutes lost at a site from which whoever may extend hours is told"),
        type=ParameterType.WHOLE,
        unit="min",
        default=15,
        citation=_OUR_DEFAULT,
        stricter=Stricter.LOWER,
        who_decides="counsel",
    ),
    Rule(
        id="supplies-ahead",
        words=N_("How long before an item may run out it is told"),
        type=ParameterType.WHOLE,
        unit="min",
        default=120,
        citation=_OUR_DEFAULT,
        stricter=Stricter.HIGHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="canvassing-body",
        words=N_("Name of the body that decides on the canvass, as reports say it"),
        type=ParameterType.TEXT,
        unit="name",
        default=N_("the canvassing body"),
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
    Rule(
        id="opens-containers",
        words=N_("Who may order a container opened, as pages of the office say it"),
        type=ParameterType.TEXT,
        unit="name",
        default=N_("the authority that your state's law names"),
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides="counsel",
    ),
    Rule(
        id="canvass-report-title",
        words=N_("Title of the report for that body"),
        type=ParameterType.TEXT,
        unit="title",
        default=N_("Counts compared for the canvass"),
        citation=_OUR_DEFAULT,
        stricter=Stricter.NEITHER,
        who_decides=_OFFICIAL,
    ),
)

LONGEST_TEXT = 80
"""Characters of a rule's text, so that it fits into the head of a page."""

BY_ID = {rule.id: rule for rule in REGISTRY}


class RuleSetting(Value, frozen=True, kw_only=True):
    """The county's own value of a rule; `confirmed_by` empty means nobody has confirmed it."""

    rule: str
    value: int | str
    level: RuleLevel = RuleLevel.POLICY
    source: str = ""
    confirmed_by: str = ""
    effective_from: dt.date | None = None

    def __post_init__(self) -> None:
        require(self.rule in BY_ID, f"rule must be one of {', '.join(sorted(BY_ID))}, got {self.rule!r}")
        rule = BY_ID[self.rule]
        if rule.type is ParameterType.TEXT:
            fits = isinstance(self.value, str) and self.value.isprintable() and bool(self.value.strip())
            require(
                fits and len(str(self.value)) <= LONGEST_TEXT,
                f"rule {rule.id!r} must be a text of 1 to {LONGEST_TEXT} characters, got {self.value!r}",
            )
        elif rule.choices:
            require(
                self.value in rule.choices,
                f"rule {rule.id!r} must be one of {', '.join(rule.choices)}, got {self.value!r}",
            )
        elif not isinstance(self.value, int) or isinstance(self.value, bool) or self.value < 0:
            raise ValueError(f"rule {rule.id!r} must be a whole number >= 0, got {self.value!r}")
        elif rule.most is not None:
            require(
                self.value <= rule.most, f"rule {rule.id!r} must be at most {rule.most:,}, got {self.value:,}"
            )


class CountyRules(Value, frozen=True, kw_only=True):
    """All settings of one county; what is not set answers with the registry's default, assumed."""

    settings: tuple[RuleSetting, ...] = ()

    def __post_init__(self) -> None:
        require_unique(tuple(s.rule for s in self.settings), "county rules")
        shares = [self.whole(rule_id) for rule_id in ("accessible-share", "curbside-share")]
        require(
            sum(shares) <= 1_000_000,
            f"accessible-share and curbside-share must be at most 1,000,000 together, got {sum(shares):,}",
        )
        for rule_id in ("jam-time", "curbside-time", "curbside-stations"):
            require(self.whole(rule_id) >= 1, f"rule {rule_id!r} must be at least 1, got 0")

    def setting(self, rule_id: str) -> RuleSetting:
        """The county's setting, or the registry's default with level ``assumed``."""
        for setting in self.settings:
            if setting.rule == rule_id:
                return setting
        return RuleSetting(rule=rule_id, value=BY_ID[rule_id].default, level=RuleLevel.ASSUMED)

    def whole(self, rule_id: str) -> int:
        """The value of a whole-number or share rule."""
        value = self.setting(rule_id).value
        if not isinstance(value, int):
            raise TypeError(f"rule {rule_id!r} is not a number, got {value!r}")
        return value

    def choice(self, rule_id: str) -> str:
        """The value of a choice or yes-or-no rule."""
        value = self.setting(rule_id).value
        if not isinstance(value, str):
            raise TypeError(f"rule {rule_id!r} is not a choice, got {value!r}")
        return value

    def text(self, rule_id: str) -> str:
        """The value of a text rule: the county's own words, else the registry's English."""
        return self.choice(rule_id)
