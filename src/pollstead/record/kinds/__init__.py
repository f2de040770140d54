"""The kinds of event that this version knows: one class each, gathered in `registry`."""
