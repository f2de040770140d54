"""Opening: what was expected at the doors against what was seen."""
