"""From station types and counts to stations with ids, and from stations to serials."""
