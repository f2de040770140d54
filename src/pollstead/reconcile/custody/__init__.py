"""Who had what when: hand-offs and where they do not join."""
