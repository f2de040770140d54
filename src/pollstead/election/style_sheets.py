"""How many sheets the ballots of a style have, where a county's styles are not all alike."""

from __future__ import annotations

from pollstead.election.values import Value, require

MOST_SHEETS = 20


class StyleSheets(Value, frozen=True, kw_only=True):
    """Ballots of `style` have `sheets` sheets; a style without a row has those of the county's rule."""

    style: str
    sheets: int

    def __post_init__(self) -> None:
        require(bool(self.style.strip()), "style must be a ballot style's short name, got nothing")
        require(1 <= self.sheets <= MOST_SHEETS, f"sheets must be 1 to {MOST_SHEETS}, got {self.sheets}")
