"""How much of each supply goes to each site."""
