"""How long site people wait at the receiving tables on closing night, by the number of tables."""
