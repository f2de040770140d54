"""The rules of Larkmoor County. They are invented and switch on no state's law."""

from __future__ import annotations

SETTINGS: tuple[tuple[str, int | str, str, str], ...] = (
    ("wait-limit", 30, "policy", "polling-place policy 4.1"),
    ("wait-risk", 100_000, "policy", "polling-place policy 4.2"),
    ("accessible-stations", 1, "law", "accessibility directive 1"),
    ("accessible-share", 10_000, "policy", "polling-place policy 4.4"),
    ("opening-line-share", 20_000, "policy", "polling-place policy 4.5"),
    ("break-length", 15, "directive", "staffing directive 4"),
    ("jam-chance", 2_000, "policy", "polling-place policy 4.6"),
    ("curbside-share", 10_000, "policy", "polling-place policy 4.7"),
    ("curbside-time", 8, "policy", "polling-place policy 4.7"),
    ("curbside-stations", 2, "policy", "polling-place policy 4.7"),
    ("ballots-in-a-pack", 50, "policy", "supply policy 1.3"),
    ("ballot-surplus", 360_000, "policy", "supply policy 2.1"),
    ("spare-share", 90_000, "policy", "fleet policy 3.1"),
    ("clock-differs", "device out of service", "directive", "opening directive 7"),
    ("seal-differs", "device out of service", "directive", "opening directive 8"),
    ("serial-differs", "device out of service", "directive", "opening directive 9"),
    ("counter-not-as-expected", "device out of service", "directive", "opening directive 10"),
    ("counts-at-closing", 2, "directive", "closing directive 3"),
    ("second-person-at-opening", "yes", "directive", "opening directive 2"),
    ("second-person-at-closing", "yes", "directive", "closing directive 2"),
    ("cross-check-at", "11:00, 15:00 and 19:00", "directive", "closing directive 4"),
    ("both-parties", "while voters vote", "directive", "staffing directive 2"),
    ("canvassing-body", "the Larkmoor County canvassing board", "law", "canvass ordinance 1"),
    ("opens-containers", "the Larkmoor County canvassing board", "law", "canvass ordinance 3"),
    ("openers", 2, "policy", "site policy 1.3"),
    ("door-clear", 32, "directive", "accessibility directive 4"),
    ("ramp-run", 12, "directive", "accessibility directive 5"),
    ("steep-road", 80_000, "policy", "freight policy 2.2"),
    ("data-cable", 100, "policy", "site policy 3.4"),
    ("morning-set-up", 60, "policy", "site policy 1.5"),
    ("closing-work", 90, "policy", "freight policy 4.1"),
    ("one-scanner-voters", 1_000, "policy", "fleet policy 1.1"),
    ("further-scanner-voters", 600, "policy", "fleet policy 1.2"),
    ("early-devices", "kept apart", "directive", "early voting directive 3"),
    ("seal-spoil", 50_000, "policy", "seal policy 2.4"),
    ("receiving-due", 120, "policy", "receiving policy 1.2"),
    ("leg-grace", 20, "policy", "freight policy 4.3"),
    ("hand-off-witness", "no", "directive", "custody directive 2"),
    ("tested-before-issue", "yes", "directive", "seal directive 1"),
    ("heard-crew", 45, "policy", "telephone policy 1.1"),
    ("heard-ready-call", "no", "policy", "telephone policy 1.2"),
    ("heard-ready", 15, "policy", "telephone policy 1.2"),
    ("heard-opened", 10, "policy", "telephone policy 1.3"),
    ("heard-counts", "none", "policy", "telephone policy 2.1"),
    ("heard-count", 30, "policy", "telephone policy 2.1"),
    ("heard-counters", "each device", "policy", "telephone policy 2.2"),
    ("heard-closed", 60, "policy", "telephone policy 3.1"),
    ("heard-way-call", "no", "policy", "telephone policy 3.2"),
)


def rules_text() -> str:
    """rules.toml as text."""
    lines = ["# The rules of Larkmoor County are invented. They switch on no state's law."]
    for rule, value, level, source in SETTINGS:
        lines += [
            "", "[[setting]]", f'rule = "{rule}"', f"value = {value}" if isinstance(value, int) else f'value = "{value}"',
            f'level = "{level}"', f'source = "Larkmoor {source} (invented)"', 'confirmed_by = "P001"',
            "effective_from = 2028-01-10",
        ]  # fmt: skip
    return "\n".join((*lines, ""))
