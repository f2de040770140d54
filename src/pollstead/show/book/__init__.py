"""The office book: what somebody needs who takes a county's work over, as one PDF."""
