"""Plan, record, reconcile and show the polling-place work of a county election office."""
