"""The working-back calendar: dates counted from election day, slack, conflicts, what a slip moves."""
