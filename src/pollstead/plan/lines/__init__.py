"""Waiting: formulas, simulation, and the numbers of stations that keep waits within the limit."""
