"""Ready to open? Joined ledgers of what is done, open and unknown."""
