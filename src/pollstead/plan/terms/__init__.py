"""The values that pass between the parts of the plan."""
