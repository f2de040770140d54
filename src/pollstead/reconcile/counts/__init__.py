"""Closing counts: the balance equations and their differences."""
