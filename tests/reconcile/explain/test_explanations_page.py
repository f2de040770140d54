"""The page on explanations says the odds and acts that are in use."""

from __future__ import annotations

import itertools
import re
from pathlib import Path

from pollstead.election.fault_odds import USUAL_ODDS
from pollstead.election.next_acts import USUAL_ACTS

PAGE = (Path(__file__).parents[3] / "docs/explanations.md").read_text(encoding="utf-8")


def test_every_line_of_odds_stands_on_the_page_with_its_number() -> None:
    """Each kind in its own code marks, with how often in a million, and with a jam where that differs."""
    cells = [c.strip() for line in PAGE.splitlines() if line.startswith("|") for c in line.split("|")[1:-1]]
    pairs = itertools.pairwise(cells)
    told = {kind: said for kinds, said in pairs for kind in re.findall("`([^`]+)`", kinds)}
    for line in USUAL_ODDS:
        numbers = [int(n.replace(",", "")) for n in re.findall(r"[\d,]+", told[line.kind])]
        assert numbers == [n for n in (line.per_million, line.jam_per_million) if n is not None], line.kind
    for act in USUAL_ACTS:
        assert told[act.act] == str(act.intrusiveness)
