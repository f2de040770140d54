"""One schema that keeps snapshots, events and plan versions."""
