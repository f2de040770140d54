"""How often the first explanation of a wrong number is the right one, under our own error model.

For every numbered closure of Larkmoor every wrong entry that the model can make is listed with its weight:
each single slip, each other number of the device, of the site, of other sites, of the spares, and numbers
that nothing has. From the list follow exactly: the best that anybody can do who knows the model (the Bayes
bound: for each entry the explanation with the most weight), and how often a slip lands on another number of
the county. Our own answers are counted on a seeded sample of the same list, with our costs and with costs
that are not those that made the errors. These are accuracies under our own error model; not field accuracy.

    ./run exec pollstead bench diagnosis
"""

from __future__ import annotations

import datetime as dt
import json
import math
import random
import statistics
import sys
import time
from collections import defaultdict
from pathlib import Path

from bench.measured import machine_and_moment

from pollstead.election.county import Election
from pollstead.election.reading_errors import ErrorKind
from pollstead.intake.folder import read_folder
from pollstead.reconcile.diagnosis.costs import USUAL_COSTS, Costs
from pollstead.reconcile.diagnosis.diagnose import Asked, Diagnosis, Fits, diagnose
from pollstead.reconcile.diagnosis.known import Known, KnownNumbers, StockRun, stock_run

SEED = 20281107
SAMPLE = 2_000
FORTY = 40
TWICE = 693
"""Millinats: the natural logarithm of 2."""
SLIPS = {
    ErrorKind.SUBSTITUTION,
    ErrorKind.LOOK_ALIKE,
    ErrorKind.NEIGHBOR_KEY,
    ErrorKind.TRANSPOSITION,
    ErrorKind.DROPPED,
    ErrorKind.DOUBLED,
    ErrorKind.INSERTED,
    ErrorKind.LEADING_ZEROS,
    ErrorKind.TWIN,
}
PLACES = {
    ErrorKind.OTHER_CLOSURE,
    ErrorKind.OTHER_DEVICE,
    ErrorKind.OTHER_SITE,
    ErrorKind.SPARE,
    ErrorKind.UNKNOWN,
}
Label = tuple[Fits, str]
Entries = dict[str, dict[Label, float]]


def larkmoor() -> Election:
    """The facts of the invented county."""
    read = read_folder(Path(__file__).resolve().parents[1] / "larkmoor", today=dt.date(2028, 10, 1))
    if read.election is None:
        raise SystemExit("larkmoor cannot be read: run pollstead check larkmoor")
    return read.election


def numbers_of(election: Election) -> tuple[list[Known], list[StockRun]]:
    """Every number of the fleet where it is at home, and the seal stock."""
    home = {device.id: device.home for device in election.devices}
    things = [
        Known(
            number=row.number,
            what="seal",
            subject=f"closure/{row.device.removeprefix('device/')}/{row.closure}/{row.position}",
            words=row.closure,
            station=row.device,
            owner=row.device,
            site=home.get(row.device, ""),
        )
        for row in election.closure_seals
    ]
    for device in election.devices:
        for what, number in (
            ("serial", device.serial),
            ("tag", device.tag),
            *(("memory device", one) for one in device.memory_devices),
        ):
            if number:
                things.append(
                    Known(
                        number=number,
                        what=what,
                        subject=f"{device.id}/{what}/{number}",
                        words=what,
                        station=device.id,
                        owner=device.id,
                        site=device.home,
                    )
                )
    runs = [stock_run(row.series, row.first, row.last) for row in election.seal_ranges]
    return things, [run for run in runs if run is not None]


def share(millinats: int) -> float:
    """A cost as a probability."""
    return math.exp(-millinats / 1000)


def slips_of(number: str, costs: Costs) -> list[tuple[str, float]]:
    """Every entry that one slip makes of a number of digits, each way for itself, with its weight."""
    digits, found = "0123456789", []
    for i, was in enumerate(number):
        for other in digits:
            if other != was:
                read = number[:i] + other + number[i + 1 :]
                found.append((read, share(costs.substitution(was, other))))
        found.append((number[:i] + number[i + 1 :], share(costs.of(ErrorKind.DROPPED))))
        found.append((number[: i + 1] + was + number[i + 1 :], share(costs.of(ErrorKind.DOUBLED))))
        pair = number[i : i + 2]
        if len(pair) == 2 and pair[0] != pair[1]:
            read = number[:i] + pair[::-1] + number[i + 2 :]
            found.append((read, share(costs.of(ErrorKind.TRANSPOSITION))))
        if len(pair) == 2 and pair[0] == pair[1]:
            found += [
                (number[:i] + 2 * other + number[i + 2 :], share(costs.of(ErrorKind.TWIN)))
                for other in digits
                if other != was
            ]
    for i in range(len(number) + 1):
        found += [
            (number[:i] + one + number[i:], share(costs.of(ErrorKind.INSERTED)))
            for one in digits
            if not i or number[i - 1] != one
        ]
    bare = number.lstrip("0")
    if bare != number and bare:
        found.append((bare, share(costs.of(ErrorKind.LEADING_ZEROS))))
    return found


def entries_of(mine: Known, things: list[Known], spares: list[str], costs: Costs) -> Entries:
    """Every wrong entry for one closure with the weights of what made it; unknown numbers are not listed."""
    found: Entries = defaultdict(lambda: defaultdict(float))
    for read, weight in slips_of(mine.number, costs):
        if read != mine.number:
            found[read][Fits.TYPO, mine.subject] += weight
    others = [one for one in things if one.number != mine.number]
    groups = (
        (Fits.CLOSURE, ErrorKind.OTHER_CLOSURE, [o for o in others if o.owner == mine.owner]),
        (
            Fits.DEVICE,
            ErrorKind.OTHER_DEVICE,
            [o for o in others if o.site == mine.site and o.owner != mine.owner],
        ),
        (Fits.SITE, ErrorKind.OTHER_SITE, [o for o in others if o.site and o.site != mine.site]),
    )
    for fits, kind, group in groups:
        for one in group:
            found[one.number][fits, one.subject] += share(costs.of(kind)) / len(group)
    nowhere = [one for one in others if not one.site]
    for one in nowhere:
        found[one.number][Fits.SPARE, one.subject] += share(costs.of(ErrorKind.SPARE)) / (
            len(nowhere) + len(spares)
        )
    for number in spares:
        found[number][Fits.SPARE, f"seal/{number}"] += share(costs.of(ErrorKind.SPARE)) / (
            len(nowhere) + len(spares)
        )
    return found


def draw(
    chance: random.Random, mine: Known, entries: Entries, unknown: float, taken: set[str]
) -> tuple[str, Label]:
    """One wrong entry and what made it, by weight."""
    ways = [(read, label, weight) for read, labels in entries.items() for label, weight in labels.items()]
    total = sum(weight for _, _, weight in ways)
    if chance.random() * (total + unknown) >= total:
        while True:
            read = "".join(chance.choice("0123456789") for _ in mine.number)
            if read not in taken and read != mine.number:
                return read, (Fits.UNKNOWN, "")
    read, label, _ = chance.choices(ways, weights=[weight for _, _, weight in ways])[0]
    return read, label


def labels_of(told: Diagnosis) -> list[Label]:
    """The explanations as they are compared: a seal of the stock by its number alone."""
    found: list[Label] = []
    for one in told.hypotheses:
        thing = one.thing
        if one.fits is Fits.SPARE and thing.startswith("seal/"):
            thing = f"seal/{told.entered}"
        found.append((one.fits, thing))
    return found


def set_wrong(kinds: set[ErrorKind], up: int, down: int, more: int = 0) -> Costs:
    """Our costs with those of some kinds times up / down, and `more` millinats added."""
    import msgspec

    of_kind = tuple(
        cost * up // down + more if kind in kinds else cost
        for kind, cost in zip(ErrorKind, USUAL_COSTS.of_kind, strict=True)
    )
    return msgspec.structs.replace(USUAL_COSTS, of_kind=of_kind)


def main() -> int:
    """Count, print and write the result beside this file."""
    here = machine_and_moment()
    election = larkmoor()
    things, runs = numbers_of(election)
    begun = time.process_time()
    known = KnownNumbers(things, runs)
    index_ms = (time.process_time() - begun) * 1000
    sealed = {one.number for one in things}
    spares = [
        f"{run.before}{value:0{run.digits}d}{run.after}"
        for run in runs
        for value in range(run.low, run.high + 1)
    ]
    spares = [number for number in dict.fromkeys(spares) if number not in sealed]
    taken = sealed | set(spares)
    closures = [one for one in things if one.what == "seal" and one.site]
    sites = {one.site for one in things if one.site}

    whole = best = slip_all = slip_known = slip_expected = 0.0
    for mine in closures:
        entries = entries_of(mine, things, spares, USUAL_COSTS)
        unknown = share(USUAL_COSTS.of(ErrorKind.UNKNOWN))
        free = unknown * (1 - len(taken) / 10 ** len(mine.number))
        whole += free + sum(sum(labels.values()) for labels in entries.values())
        each = unknown / 10 ** len(mine.number)
        for read, labels in entries.items():
            best += max(labels.values())
            slip = labels.get((Fits.TYPO, mine.subject), 0.0)
            slip_all += slip
            slip_known += slip if read in taken else 0.0
            slip_expected += slip if read == mine.number else 0.0
        # A number that nothing has and no slip makes is unknown for certain.
        unlisted = sum(1 for read in entries if read not in taken and len(read) == len(mine.number))
        best += free - unlisted * each

    chance = random.Random(SEED)  # noqa: S311 - errors are drawn, no secret
    drawn = []
    for _ in range(SAMPLE):
        mine = chance.choice(closures)
        entries = entries_of(mine, things, spares, USUAL_COSTS)
        unknown = share(USUAL_COSTS.of(ErrorKind.UNKNOWN))
        drawn.append((mine, *draw(chance, mine, entries, unknown, taken)))

    def asked(mine: Known) -> Asked:
        return Asked(
            expected=mine.number, what=mine.what, subject=mine.subject, owner=mine.owner, site=mine.site
        )

    rows = []
    took: list[float] = []
    for name, costs in (
        ("our costs, as drawn", USUAL_COSTS),
        ("slips cost twice as much", set_wrong(SLIPS, 2, 1)),
        ("slips cost half as much", set_wrong(SLIPS, 1, 2)),
        ("other places cost twice as much", set_wrong(PLACES, 2, 1)),
        ("other places cost half as much", set_wrong(PLACES, 1, 2)),
        ("slips thought twice as frequent", set_wrong(SLIPS, 1, 1, -TWICE)),
        ("slips thought half as frequent", set_wrong(SLIPS, 1, 1, TWICE)),
    ):
        first = second = slips = slips_right = 0
        for mine, read, label in drawn:
            begun = time.process_time()
            told = diagnose(read, asked(mine), known, costs)
            if costs is USUAL_COSTS:
                took.append((time.process_time() - begun) * 1000)
            labels = labels_of(told)
            first += label == labels[0]
            second += label in labels[:2]
            slips += label[0] is Fits.TYPO
            slips_right += label[0] is Fits.TYPO and label == labels[0]
        rows.append(
            {
                "costs": name,
                "first is right": round(first / SAMPLE, 4),
                "right among the first two": round(second / SAMPLE, 4),
                "standard error of the first": round(
                    math.sqrt(first / SAMPLE * (1 - first / SAMPLE) / SAMPLE), 4
                ),
                "slips told as slips": round(slips_right / slips, 4),
            }
        )

    told_different = sum(
        1 for mine in closures if not diagnose(mine.number, asked(mine), known, USUAL_COSTS).matches
    )
    told_match = sum(1 for mine, read, _ in drawn if diagnose(read, asked(mine), known, USUAL_COSTS).matches)
    took.sort()
    result = {
        "what": "diagnosis of wrong seal numbers of Larkmoor, under our own error model; not field accuracy",
        **here,
        "numbers known": {
            "on things": len(things),
            "spare seals": len(spares),
            "sites": len(sites),
            "closures read": len(closures),
        },
        "best possible for the first (Bayes bound, computed exactly over every entry)": round(
            best / whole, 4
        ),
        "wrong entries drawn": SAMPLE,
        "seed": SEED,
        "accuracy": rows,
        "a slip lands on another number of the county (exact share of slips)": round(
            slip_known / slip_all, 4
        ),
        "right entries told as different, per 40 sites": told_different * FORTY / len(sites),
        "wrong entries told as match": told_match + round(slip_expected),
        "CPU ms to arrange the numbers": round(index_ms, 1),
        "CPU ms for one diagnosis": {
            "median": round(statistics.median(took), 2),
            "99 %": round(took[int(len(took) * 0.99)], 2),
        },
    }
    text = json.dumps(result, indent=2)
    (Path(__file__).parent / "results" / "diagnosis.json").write_text(text + "\n", encoding="utf-8")
    print(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
