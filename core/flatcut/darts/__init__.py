"""Darts: their forms, pivoting and what travels with it, opening, releasing."""
