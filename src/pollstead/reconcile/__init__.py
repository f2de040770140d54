"""Expected against observed: every difference kept and explained."""
