"""Invented names of invented people, for a county that does not exist."""

from __future__ import annotations

FIRST = (
    "Ida Tobin Wren Odell Sunniva Jory Marit Caspian Linnea Bram Esme Rufus Thea Alaric Nell Osric Petra Quill "
    "Roswitha Silas Una Viggo Willa Yorick Zelda Ansgar Bettina Corwin Dagny Edric Fenna Gideon Hester Ivo"
).split()
LAST = (
    "Fenwright Marsh-Oakley Castellan Briarly Hale Quillfeather Ostrander Dole Thackeray-Voss Ambrey Birchmoor "
    "Coldwell Drayhurst Elverson Farrowby Gantling Harkness-Pell Inglewhite Jessop-Rye Kestrelby Lorrimore Mossgate "
    "Netherby Oxlade Pendry Quarrel Rushmere Stannard Tolliver Underhay Vantongeren Wexcombe Yarrowdale Zennor"
).split()


def name_of(number: int) -> str:
    """The name of the person with this number; numbers below 1,156 have different names."""
    turn, place = divmod(number, len(FIRST))
    return f"{FIRST[place]} {LAST[(place + turn) % len(LAST)]}"
