"""Tables and open formats for other programs."""
