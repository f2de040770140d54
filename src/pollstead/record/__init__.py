"""The record of the day: events, canonical bytes, keys, chains, merge and fold."""
