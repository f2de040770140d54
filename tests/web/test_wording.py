"""Numbers, times and drawings as pages show them."""

from __future__ import annotations

import datetime as dt
import html
import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pollstead.plan.terms.demand import QuantileRow, SiteDayDemand
from pollstead.show.web.chart import demand_chart
from pollstead.show.web.forms import BadForm, read_form
from pollstead.show.web.pages.frame import bare_shell
from pollstead.show.web.wording import Speaker, clock, environment, moment, share
from pollstead.show.words import ENGLISH, PSEUDO, PSEUDO_RTL


def shown(markup: object) -> str:
    """The text that a reader sees."""
    return html.unescape(re.sub(r"<[^>]+>", "", str(markup)))


@pytest.mark.parametrize(
    ("ppm", "text"),
    [
        (0, "0.0 %"),
        (1, "< 0.1 %"),
        (999, "< 0.1 %"),
        (1_000, "0.1 %"),
        (45_499, "4.5 %"),
        (45_500, "4.6 %"),
        (99_400, "9.9 %"),
        (99_600, "10 %"),
        (104_900, "10 %"),
        (125_000, "13 %"),
        (995_000, "> 99 %"),
        (999_999, "> 99 %"),
        (1_000_000, "100 %"),
    ],
)
def test_a_share_is_rounded_half_up_and_never_to_a_false_zero(ppm: int, text: str) -> None:
    """One decimal below ten per cent, none above; a small chance is never shown as none."""
    assert shown(share(ppm)) == text


@given(st.integers(0, 1_000_000), st.integers(0, 1_000_000))
def test_a_larger_share_is_never_shown_as_smaller(a: int, b: int) -> None:
    """Rounding keeps the order of shares."""

    def value(ppm: int) -> float:
        text = shown(share(ppm))
        bounds = {"< 0.1 %": 0.05, "> 99 %": 99.5}
        return bounds.get(text) or float(text.removesuffix(" %"))

    low, high = sorted((a, b))
    assert value(low) <= value(high)


def test_a_short_wait_is_said_in_words() -> None:
    """A wait below half a minute is not shown as no wait."""
    speaker = Speaker(ENGLISH)
    assert [shown(speaker.minutes(ms)) for ms in (0, 1, 29_999, 30_000, 89_999, 90_000)] == [
        "0 min",
        "under 1 min",
        "under 1 min",
        "1 min",
        "1 min",
        "2 min",
    ]


def test_times_follow_the_countys_clock() -> None:
    """An instant is shown on the wall clock of its zone, a minute past midnight stays of its day.

    2028-11-05 06:30 UTC is 01:30 in New York, after the clocks went back (IANA time zone database).
    """
    assert shown(moment(1_857_018_600_000, "America/New_York")) == "2028-11-05 01:30"
    assert "2028-11-05T01:30:00-05:00" in str(moment(1_857_018_600_000, "America/New_York"))
    assert shown(clock(24 * 60 + 40)) == "24:40"


def test_data_in_a_sentence_is_escaped_marked_and_not_translated() -> None:
    """A name in a sentence keeps its letters in the pseudo-language and its markup is text."""
    said = str(Speaker(PSEUDO).words("Voters at {site}", site="Old <Mill>"))
    assert '<bdi translate="no">Old &lt;Mill&gt;</bdi>' in said
    assert said.startswith("[V") and said.endswith("]")


def day(counts: list[tuple[int, int, int]], opens: int, closes: int) -> SiteDayDemand:
    """A day with these quarter hours."""
    slots = tuple(QuantileRow(p10=a, p50=b, p90=c) for a, b, c in counts)
    return SiteDayDemand(
        site="X",
        date=dt.date(2028, 11, 7),
        opens_min=opens,
        closes_min=closes,
        voters=QuantileRow(p10=1, p50=2, p90=3),
        slots=slots,
    )


rows = st.lists(st.lists(st.integers(0, 5_000), min_size=3, max_size=3).map(sorted), min_size=1, max_size=96)


@given(rows, st.integers(0, 20 * 60))
def test_the_drawing_stays_in_its_field_and_keeps_every_quarter_hour(
    counts: list[list[int]], opens: int
) -> None:
    """Each quarter hour has its points within the axes, the line inside the band, time to the right."""
    closes = opens + 15 * len(counts)
    chart = demand_chart(day([tuple(c) for c in counts], opens, closes), "chart")  # type: ignore[misc]
    assert chart is not None
    line = [tuple(map(int, point.split(","))) for point in chart.middle.split()]
    band = [tuple(map(int, point.split(","))) for point in chart.band.split()]
    assert len(line) == len(counts) and len(band) == 2 * len(counts)
    upper, lower = band[: len(counts)], band[len(counts) :][::-1]
    for (x, y), (_, high), (_, low) in zip(line, upper, lower, strict=True):
        assert chart.left <= x <= chart.right
        assert chart.top <= high <= y <= low <= chart.bottom
    assert [x for x, _ in line] == sorted(x for x, _ in line)
    assert 2 <= len(chart.counts) <= 6 and chart.counts[-1].value >= max(c[2] for c in counts)
    assert all(opens <= tick.value <= closes for tick in chart.hours)


@given(st.dictionaries(st.text(st.characters(codec="utf-8"), max_size=20), st.text(max_size=60), max_size=8))
def test_any_form_is_read_or_refused_in_words(fields: dict[str, str]) -> None:
    """Whatever is typed, a form is read as it was meant or refused; nothing else is raised."""
    from urllib.parse import urlencode

    try:
        body = urlencode(fields).encode()
    except UnicodeEncodeError:
        return  # half of a surrogate pair, which no browser sends
    try:
        form = read_form("application/x-www-form-urlencoded; charset=utf-8", body)
    except BadForm:
        return
    assert set(form) <= set(fields)
    for name, value in form.items():
        assert value.split() == unicodedata.normalize("NFC", fields[name]).split()


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused_in_words(body: bytes) -> None:
    """No body raises anything but the refusal."""
    try:
        read_form("application/x-www-form-urlencoded", body)
    except BadForm as refusal:
        assert str(refusal)


def test_a_template_is_compiled_once_and_says_each_languages_own_words() -> None:
    """Another language takes over what was compiled, and none of the words."""
    made = [environment(language).get_template("trouble.html") for language in (ENGLISH, PSEUDO, PSEUDO_RTL)]
    context = {"title": "T", "what": "", "next_step": "", "link": "/", "shell": bare_shell("/")}
    told = [template.render(context) for template in made]
    assert len({template.root_render_func.__code__ for template in made}) == 1
    assert ["Go on from here" in page for page in told] == [True, False, False]
    assert ['dir="rtl"' in page for page in told] == [False, False, True]
