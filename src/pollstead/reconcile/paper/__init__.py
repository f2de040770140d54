"""Signed paper that comes back: which sheet, which lines to key, what two people keyed."""
