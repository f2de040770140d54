"""The rule of thumb that bookkeepers know, as a rival: a difference that nine divides is a swap of digits.

Anything else it leaves unexplained. The trade's rule, from memory; no source.
"""

from __future__ import annotations

from bench.counts.judge import Told, ToldFault, ToldGroup
from bench.counts.night import Seeded, residuals


def rule_of_nine(night: Seeded) -> Told:
    """The first number, in the order of the form, in which two neighbors exchanged close every row."""
    wrong = residuals(night.day, night.read)
    if not any(wrong):
        return Told(groups=(), differs=False)
    if any(off % 9 for off in wrong):
        return Told(groups=(), differs=True)
    for key in night.day.keys:
        digits = str(night.read[key])
        for place in range(len(digits) - 1):
            other = digits[:place] + digits[place + 1] + digits[place] + digits[place + 2 :]
            mended = {**night.read, key: int(other)}
            if other != digits and not any(residuals(night.day, mended)):
                said = ToldFault("digits swapped", frozenset({(key, int(other))}))
                return Told(groups=(ToldGroup(((said,),), 1.0),), differs=True)
    return Told(groups=(), differs=True)
