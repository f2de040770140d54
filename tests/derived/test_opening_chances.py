"""Opening is a product: values worked out by hand for independent sites, not read in a publication."""

from __future__ import annotations

from pollstead.reconcile.readiness.chance import BILLION, Cause, late_ppb


def on_time(ppm_late: int, sites: int) -> float:
    """The chance that all of so many sites open on time, each late with the same chance."""
    return 1 - late_ppb(Cause(id=str(n), ppm=ppm_late) for n in range(sites)) / BILLION


def test_forty_sites_at_99_percent_open_all_on_time_two_mornings_in_three() -> None:
    """0.99^40 = 0.669 (derived); 0.99^600 = 0.002 (derived)."""
    assert abs(on_time(10_000, 40) - 0.669) < 0.0005
    assert abs(on_time(10_000, 600) - 0.002) < 0.0005


def test_each_of_forty_sites_must_be_99_872_percent_sure_for_95_percent_of_all() -> None:
    """0.95^(1/40) = 0.99872 (derived): one in a million worse and it falls below 95 of 100 mornings."""
    assert on_time(1_281, 40) >= 0.95 > on_time(1_283, 40)


def test_lead_and_deputy_both_absent_is_a_quarter_of_a_percent() -> None:
    """5 % each, independent: 0.25 % (derived), 1.5 of 600 sites."""
    both = late_ppb(
        (
            Cause(id="a", ppm=50_000, group="lead", member="a"),
            Cause(id="b", ppm=50_000, group="lead", member="b"),
        )
    )
    assert both == 2_500_000
    assert both * 600 == 1.5 * BILLION
