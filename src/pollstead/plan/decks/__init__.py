"""Test decks for the logic and accuracy test: which ballots to mark, and what they must give.

`totals` says how many votes each choice gets and how few ballots can carry them; `packing` puts them on
ballots; `synthesis` makes a deck for each face. `predetermined` counts a deck anew from its marks and shares
no code with them; `blind_spots` says which mistakes of a device a deck would not show.
"""
