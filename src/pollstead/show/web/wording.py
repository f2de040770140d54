"""Templates in a reader's language: every word through the catalogue, every datum marked as one.

A datum (a name, a serial, a time, a count) stands in ``<bdi translate="no">``: it keeps its own
direction inside right-to-left text, and the pseudo-language test can tell it from a word that was
forgotten.
"""

from __future__ import annotations

import datetime as dt
import functools
from types import CodeType
from typing import Any, Final

import jinja2
from jinja2.bccache import Bucket
from markupsafe import Markup, escape

from pollstead.election.instants import Instant, format_clock
from pollstead.election.words import N_, Message
from pollstead.show.calendar_words import WEEKDAYS
from pollstead.show.words import is_right_to_left, numbered, text

PPM_PER_PERCENT = 10_000


def data(value: object) -> Markup:
    """A datum: kept in its own direction, never translated; empty stays empty."""
    if isinstance(value, Markup):
        return value
    shown = str(value)
    return Markup('<bdi translate="no">{}</bdi>').format(shown) if shown else Markup("")


def code(value: object) -> Markup:
    """A serial, tag, seal number or digest: left to right whatever the page's direction."""
    shown = str(value)
    return (
        Markup('<bdi translate="no" dir="ltr" class="code">{}</bdi>').format(shown) if shown else Markup("")
    )


def figure(value: int | str) -> Markup:
    """A number with thousands apart, left to right."""
    shown = f"{value:,}" if isinstance(value, int) else value
    return Markup('<bdi translate="no" dir="ltr">{}</bdi>').format(shown)


def share(ppm: int) -> Markup:
    """Parts per million as per cent: one decimal below ten, none above; 0 and 100 only where exact."""
    if 0 < ppm < PPM_PER_PERCENT // 10:
        return figure("< 0.1 %")
    tenths = (ppm * 10 + PPM_PER_PERCENT // 2) // PPM_PER_PERCENT
    if tenths < 100:
        return figure(f"{tenths // 10}.{tenths % 10} %")
    whole = (ppm + PPM_PER_PERCENT // 2) // PPM_PER_PERCENT
    return figure("> 99 %" if whole == 100 and ppm < 100 * PPM_PER_PERCENT else f"{whole} %")


def clock(minute: int) -> Markup:
    """Minutes of the operating day as ``07:00``."""
    return figure(format_clock(minute))


def moment(utc_ms: int, zone_name: str) -> Markup:
    """An instant on the county's wall clock, with its date."""
    local = Instant(utc_ms=utc_ms).local(zone_name)
    return Markup('<time datetime="{}"><bdi translate="no" dir="ltr">{}</bdi></time>').format(
        local.isoformat(timespec="seconds"), local.strftime("%Y-%m-%d %H:%M")
    )


class Speaker:
    """Says things in one language; its methods are what templates call."""

    def __init__(self, language: str) -> None:
        self.language = language

    def words(self, english: str, /, **params: object) -> Markup:
        """``_("Voters at {site}", site=…)``: the sentence, with each parameter as a datum."""
        translated = escape(text(numbered(english, params, self.language), self.language))
        if not params:
            return translated
        shown = {name: figure(p) if isinstance(p, int) else data(p) for name, p in params.items()}
        return Markup(str(translated).format_map(shown))  # noqa: S704 - template escaped above, params by data()

    def plain(self, english: str, /, **params: object) -> str:
        """The same as plain text, for attributes, titles and answers outside HTML."""
        translated = text(numbered(english, params, self.language), self.language)
        return translated.format_map(params) if params else translated

    def say(self, message: Message | str | None) -> Markup:
        """A message value, or a word of ours that inner parts gave as English text."""
        if message is None or message == "":
            return Markup("")
        if isinstance(message, str):
            return self.words(message)
        return self.words(message.template, **{p.name: p.value for p in message.params})

    def minutes(self, ms: int) -> Markup:
        """A duration to the nearest minute; below half a minute, in words."""
        whole = (ms + 30_000) // 60_000
        if ms and not whole:
            return self.words(N_("under 1 min"))
        return self.words(N_("{n} min"), n=whole)

    def weekday(self, date: dt.date) -> Markup:
        """A day by which people plan: its weekday, then its date."""
        return self.words(WEEKDAYS[date.weekday()]) + Markup(" ") + figure(date.isoformat())

    def count(self, n: int, one: str, many: str) -> Markup:
        """``count(3, N_("1 site"), N_("{n} sites"))``."""
        return self.words(one) if n == 1 else self.words(many, n=n)


class _Compiled(jinja2.BytecodeCache):
    """Each template compiled once for all languages: they differ in words looked up while it is rendered."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], CodeType] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Give what was compiled of this same text before, if it was."""
        bucket.code = self._kept.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was compiled."""
        if bucket.code is not None:
            self._kept[bucket.key, bucket.checksum] = bucket.code


_COMPILED: Final = _Compiled()


@functools.cache
def environment(language: str) -> jinja2.Environment:
    """The templates with one language's words; undefined names are errors, everything is escaped."""
    speaker = Speaker(language)
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("pollstead.show.web", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=_COMPILED,
    )
    made.globals.update(
        _=speaker.words,
        plain=speaker.plain,
        say=speaker.say,
        minutes=speaker.minutes,
        count=speaker.count,
        weekday=speaker.weekday,
        data=data,
        code=code,
        figure=figure,
        share=share,
        clock=clock,
        moment=moment,
        lang=language,
        direction="rtl" if is_right_to_left(language) else "ltr",
    )
    return made


def speaker(language: str) -> Speaker:
    """The speaker of one language."""
    return Speaker(language)


def render(template: str, language: str, context: dict[str, Any]) -> str:
    """One page as HTML text."""
    return environment(language).get_template(template).render(context)
