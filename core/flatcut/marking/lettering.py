"""How much room letters take."""

LETTER = 0.62
"""Width of a letter as a part of its height, on the wide side for a plain sans serif, so that no text is longer."""
LEADING = 1.4
"""Line distance as a part of the letter height."""
