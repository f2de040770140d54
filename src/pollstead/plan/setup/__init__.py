"""Set-up steps to a run sheet: earliest times, the critical path, and how many people at once."""
