"""Counts that come as somebody's table, or in the open results format, read by a mapping a person confirms.

No vote is read: ballots, sheets, envelopes and check-ins by site, device, way of voting and ballot style.
"""
