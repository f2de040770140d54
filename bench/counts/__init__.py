"""Measures how well differences of a closing night are explained, by faults that two generators seed."""
