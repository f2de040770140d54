"""How fast the waiting lines of a county are simulated, beside general libraries telling the same days."""
