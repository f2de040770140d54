"""The printed packet of a site."""
