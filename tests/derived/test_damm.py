"""A remembered check digit: the standing of the value is weaker than a published one."""

from __future__ import annotations

from stdnum import damm


def test_damm_digit_of_572() -> None:
    """572 has the Damm digit 4 (from memory; recomputed with python-stdnum)."""
    assert damm.calc_check_digit("572") == "4"
