"""The critical path of a textbook project.

Render & Stair / Heizer & Render, the foundry or paper-mill project of eight activities with optimistic,
likely and pessimistic weeks: from memory; all outputs recomputed by hand from (a + 4m + b) / 6.
"""

from __future__ import annotations

from pollstead.plan.setup.critical_path import Activity, critical_path

WEEKS = {
    "A": (1, 2, 3, ()),
    "B": (2, 3, 4, ()),
    "C": (1, 2, 3, ("A",)),
    "D": (2, 4, 6, ("A", "B")),
    "E": (1, 4, 7, ("C",)),
    "F": (1, 2, 9, ("C",)),
    "G": (3, 4, 11, ("D", "E")),
    "H": (1, 2, 3, ("F", "G")),
}


def test_a_textbook_project_has_its_times_and_critical_path() -> None:
    """Expected times, early finishes, slacks and the path A-C-E-G-H of 15 weeks come out exactly."""
    expected = {name: (a + 4 * m + b) // 6 for name, (a, m, b, _) in WEEKS.items()}
    assert list(expected.values()) == [2, 3, 2, 4, 4, 3, 5, 2]
    activities = tuple(
        Activity(id=name, minutes=expected[name], after=after) for name, (*_, after) in WEEKS.items()
    )
    times = critical_path(activities)
    assert [t.early_finish for t in times] == [2, 3, 4, 7, 8, 7, 13, 15]
    assert [t.slack for t in times] == [0, 1, 0, 1, 0, 6, 0, 0]
    assert "-".join(t.id for t in times if t.critical) == "A-C-E-G-H"
    assert max(t.early_finish for t in times) == 15


def test_the_order_in_which_activities_are_given_changes_no_time() -> None:
    """The same project given backwards has the same times."""
    forwards = tuple(Activity(id=name, minutes=m, after=after) for name, (_, m, _, after) in WEEKS.items())
    assert set(critical_path(forwards)) == set(critical_path(forwards[::-1]))
