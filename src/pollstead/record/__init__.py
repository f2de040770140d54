"""What people decided, saw and did: events, keys, chains, tree, merge and fold."""
