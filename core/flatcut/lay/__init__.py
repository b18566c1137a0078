"""Pieces laid on cloth: as little length as can be found, and the proof that nothing overlaps."""
