"""Which closures carry which seal, how many are needed, and the expected set."""
