"""Reports over test decks: compared exactly, and which device has a comparison that matched."""
