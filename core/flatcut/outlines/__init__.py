"""From drawn outlines to pieces: which paths are pieces, their corners, notches and darts, and the table of names."""
