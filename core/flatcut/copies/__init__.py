"""Pieces derived from others: copies, fusing, facings, linings, with the seams of their layer of cloth."""
