"""Timings as an office has them: check-in times, line counts, timed samples; reduced while they are read."""
