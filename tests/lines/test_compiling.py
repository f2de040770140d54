"""The simulation's machine code: kept on the disk where that can be, used all the same elsewhere."""

from __future__ import annotations

import numba
import pytest
from numba.core import caching

from pollstead.plan.lines import vectors

pytestmark = pytest.mark.full


def test_a_computer_without_a_writable_folder_compiles_all_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """numba refuses to keep code where no folder can be written (a RuntimeError); nothing stops."""
    monkeypatch.setattr(caching.CacheImpl, "_locator_classes", [])

    def twice(number: int) -> int:
        return 2 * number

    with pytest.raises(RuntimeError, match="cannot cache"):
        numba.njit(cache=True)(twice)
    assert vectors.compiled(twice)(21) == 42
