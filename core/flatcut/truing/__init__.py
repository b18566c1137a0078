"""Lines made fair over darts and seams, and the two edges of a seam made equal."""
