"""What a late change does: expected lists, sheets on paper, people to call. Pure."""
