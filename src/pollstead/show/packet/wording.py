"""One reader's language for one packet: catalogue texts, dates, clocks, rules' words, serials of sheets."""

from __future__ import annotations

import datetime as dt
import hashlib

from pollstead.election.check_characters import with_check
from pollstead.election.county import Election
from pollstead.election.instants import Instant
from pollstead.election.practice import MARK
from pollstead.election.rules import CountyRules, RuleLevel
from pollstead.election.words import N_, Message
from pollstead.show.cautions import Place, for_place
from pollstead.show.packet.content import Cautions
from pollstead.show.words import ENGLISH, PSEUDO, PSEUDO_RTL, fill, is_right_to_left, languages, text

# Digits and letters that are hard to confuse by eye: no zero, one, I, L, O, Q, U, B, S or Z.
_CLEAR = "23456789ACDEFGHJKMNPRTVWXY"


_ISOLATE, _END = "\u2068", "\u2069"


class Say:
    """Catalogue texts in one language; call it with an English template and its parameters."""

    def __init__(self, language: str = ENGLISH) -> None:
        if language not in languages():
            raise ValueError(f"language must be one of {', '.join(languages())}, got {language!r}")
        self.language = language
        self.right_to_left = is_right_to_left(language)
        self._locale = "en_US" if language in (PSEUDO, PSEUDO_RTL) else language.replace("-", "_")

    def __call__(self, template: str, **params: int | str) -> str:
        """The template in this language, filled in; each text isolated where the script runs right to left.

        So a serial, a time or a name keeps its own order (Unicode Standard Annex 9, first strong isolate).
        """
        if self.right_to_left:
            params = {k: f"{_ISOLATE}{v}{_END}" if isinstance(v, str) else v for k, v in params.items()}
        return text(template, self.language).format_map(params)

    def message(self, message: Message) -> str:
        """A message of an inner part in this language."""
        return fill(message, self.language)

    def date(self, date: dt.date) -> str:
        """A date with its weekday, as ``Tue, Nov 7, 2028``."""
        from babel.dates import format_date

        return format_date(date, format="EEE, MMM d, y", locale=self._locale)

    def short_date(self, date: dt.date) -> str:
        """Month and day, as ``Nov 7``."""
        from babel.dates import format_skeleton

        return str(format_skeleton("MMMd", date, locale=self._locale))

    def moment(self, instant: Instant, zone_name: str) -> str:
        """A date and a time of day on the county's clock, as ``Oct 30, 2028 14:05``."""
        from babel.dates import format_date

        local = instant.local(zone_name)
        return f"{format_date(local.date(), format='MMM d, y', locale=self._locale)} {local:%H:%M}"

    def cautions(self, place: Place) -> Cautions:
        """The frame with the cautions that stand at `place`."""
        return Cautions(
            title=self(N_("Caution")), items=tuple(self(caution.words) for caution in for_place(place))
        )


OUT_OF_SERVICE = N_(
    "Stop with this device. Leave it as it is, out of service. Go on with the others. Call the office."
)
RECORD_AND_GO_ON = N_("Write down what you read, tell the site lead, go on, and call the office.")
CALL_THE_OFFICE = N_(
    "Your county has not confirmed its rule. Leave this device as it is, go on with the others, "
    "call the office."
)


def confirmed(rules: CountyRules, rule_id: str) -> bool:
    """Whether a person has confirmed the county's own value of this rule."""
    setting = rules.setting(rule_id)
    return setting.level is not RuleLevel.ASSUMED and bool(setting.confirmed_by.strip())


def what_to_do(say: Say, rules: CountyRules, rule_id: str) -> str:
    """The county's word for a number that differs; "call the office" while nobody has confirmed it."""
    if not confirmed(rules, rule_id):
        return say(CALL_THE_OFFICE)
    out = rules.choice(rule_id) == "device out of service"
    return say(OUT_OF_SERVICE if out else RECORD_AND_GO_ON)


def sheet_serial(plan_digest: str, site: str, key: str, language: str, practice: bool) -> str:
    """The serial of one sheet: three groups of letters and digits, check character last.

    It follows from the plan version, the site, the sheet's key, the language and whether it is
    practice; it says nothing of what is on the sheet. Check: ISO/IEC 7064 MOD 37,36. A practice
    serial has the practice mark in front, so that no eye and no scanner takes it for a real one.
    """
    seed = "\x1f".join((plan_digest, site, key, language, "practice" if practice else "election"))
    number = int.from_bytes(hashlib.sha256(seed.encode()).digest(), "big")
    letters = ""
    for _ in range(11):
        number, digit = divmod(number, len(_CLEAR))
        letters += _CLEAR[digit]
    whole = with_check(letters)
    return f"{MARK if practice else ''}{whole[:4]}-{whole[4:8]}-{whole[8:]}"


def short_digest(digest: str) -> str:
    """The first twelve digits of a digest, in groups of four, as it stands on paper."""
    return " ".join(digest[i : i + 4] for i in range(0, 12, 4))


def days_of(election: Election, site_id: str) -> tuple[tuple[dt.date, int | None, int | None], ...]:
    """The operating days of a site with opening and closing minute; election day, hours unknown, else."""
    site = election.site(site_id)
    if site.hours:
        ordered = sorted(site.hours, key=lambda hours: hours.date)
        return tuple((hours.date, hours.opens_min, hours.closes_min) for hours in ordered)
    return ((election.election_day, None, None),)
