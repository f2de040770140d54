"""Every number that the county knows on one day, arranged once: expected ones, spares, stock, void seals."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from pollstead.election.check_characters import CheckScheme, fits, is_right
from pollstead.election.seal_checks import SealChecks
from pollstead.election.seal_stock import body_of, split_number
from pollstead.election.values import Value

FEWEST_CHECKED = 5
"""So many different numbers must all end in their check character before it counts as the county's own way:
by chance five do once in 60 million (36 to the power of 5)."""


_NO_CHECKS = SealChecks()


def plain_value(number: str) -> str:
    """A number as it is compared: without outer spaces, capital and small letters alike."""
    return number.strip().upper()


class Known(Value, frozen=True, kw_only=True):
    """One number and the thing it belongs to.

    `subject` is the thing's id, `owner` the device (or the station) it is on, `station` how people call the
    station or device, `words` how they call the thing, `site` where it is expected, empty where no list has
    it on this day. `what` is ``seal``, ``serial``, ``tag``, ``memory device`` or ``counter``.
    """

    number: str
    what: str
    subject: str
    words: str
    station: str = ""
    owner: str = ""
    site: str = ""


class StockRun(Value, frozen=True, kw_only=True):
    """Seals of one series from `low` to `high`, and what stands before and after the digits.

    `check` is how the character behind them is made.
    """

    series: str
    before: str
    digits: int
    after: str
    low: int
    high: int
    check: CheckScheme = CheckScheme.NONE

    def holds(self, number: str) -> bool:
        """Whether the run has this number, with as many digits as it has."""
        if not fits(self.check, number):
            return False
        body = body_of(number, self.check)
        try:
            before, value, after = split_number(body)
        except ValueError:
            return False
        digits = len(body) - len(before) - len(after)
        alike = (before, digits, after) == (self.before, self.digits, self.after)
        return alike and self.low <= value <= self.high


class VoidSeal(Value, frozen=True, kw_only=True):
    """A seal that is never used, and why in one coded word."""

    number: str
    reason: str


def stock_run(series: str, first: str, last: str, check: CheckScheme = CheckScheme.NONE) -> StockRun | None:
    """The run from `first` to `last`, whole numbers; None where the ends do not belong together."""
    first, last = plain_value(first), plain_value(last)
    if not (fits(check, first) and fits(check, last)):
        return None
    first, last = body_of(first, check), body_of(last, check)
    try:
        before, low, after = split_number(first)
        other_before, high, other_after = split_number(last)
    except ValueError:
        return None
    if (before, after) != (other_before, other_after) or len(first) != len(last) or low > high:
        return None
    digits = len(first) - len(before) - len(after)
    return StockRun(series=series, before=before, digits=digits, after=after, low=low, high=high, check=check)


class KnownNumbers:
    """The numbers of a county on one day, by number, by device and by site.

    Not a value: it only arranges what it is given, in an order that does not depend on how it was given.
    """

    def __init__(
        self,
        known: Iterable[Known],
        runs: Iterable[StockRun] = (),
        voids: Iterable[VoidSeal] = (),
        checks: SealChecks = _NO_CHECKS,
    ) -> None:
        things = {(one.what, one.subject, plain_value(one.number)): one for one in sorted(known, key=_order)}
        self.all = tuple(things.values())
        self._by_number: dict[str, list[Known]] = defaultdict(list)
        self._by_site: dict[str, list[Known]] = defaultdict(list)
        self._checked: dict[str, bool] = {}
        numbers: dict[str, set[str]] = defaultdict(set)
        for one in self.all:
            self._by_number[plain_value(one.number)].append(one)
            self._by_site[one.site].append(one)
            numbers[one.what].add(plain_value(one.number))
        for what, found in numbers.items():
            self._checked[what] = len(found) >= FEWEST_CHECKED and all(map(is_right, found))
        self._runs = tuple(sorted(set(runs), key=lambda run: (run.series, run.before, run.low, run.high)))
        self._voids = {
            plain_value(void.number): void for void in sorted(voids, key=lambda v: (v.number, v.reason))
        }
        self._seal_checks = checks
        self.in_stock = max(0, _held(self._runs) - len(numbers["seal"]))

    def with_number(self, number: str) -> tuple[Known, ...]:
        """The things that have this number."""
        return tuple(self._by_number.get(plain_value(number), ()))

    def at(self, site: str) -> tuple[Known, ...]:
        """The things expected at a site; those of no site where `site` is empty."""
        return tuple(self._by_site.get(site, ()))

    def series_of(self, number: str) -> tuple[str, ...]:
        """The series of the stock that hold this number, each once; two where two orders brought it."""
        wanted = plain_value(number)
        return tuple(dict.fromkeys(run.series for run in self._runs if run.holds(wanted)))

    def void(self, number: str) -> VoidSeal | None:
        """What the ledger says of a void seal; None where it is not void."""
        return self._voids.get(plain_value(number))

    @property
    def void_count(self) -> int:
        """How many void seals are known."""
        return len(self._voids)

    def has_check_character(self, what: str) -> bool:
        """Whether every known number of this sort ends in its check character (ISO/IEC 7064, MOD 37,36)."""
        return self._checked.get(what, False)

    def misread_seal(self, what: str, number: str) -> bool:
        """Whether what was read as a seal does not fit the check character that the stock says it has."""
        return what == "seal" and self._seal_checks.misread("", number)


def _held(runs: tuple[StockRun, ...]) -> int:
    """How many different numbers the runs hold: a box stands in the ranges and in its receipt."""
    count, end = 0, ("", 0, "", "", -1)
    for run in sorted(runs, key=_run_order):
        shape = (run.before, run.digits, run.after, run.check.value)
        last = end[4] if shape == end[:4] else -1
        count += max(0, run.high - max(run.low, last + 1) + 1)
        end = (*shape, max(run.high, last))
    return count


def _run_order(run: StockRun) -> tuple[str, int, str, str, int, int]:
    return (run.before, run.digits, run.after, run.check.value, run.low, run.high)


def _order(one: Known) -> tuple[str, str, str, str, str]:
    return (one.site, one.owner, one.subject, one.what, one.number)
