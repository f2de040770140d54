"""Paper for the wall and the desk of the office: the calendar by month, by owner, by week."""
