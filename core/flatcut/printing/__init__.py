"""Paper at true scale: pieces laid out, cut up into sheets, with what is needed to put the sheets together again.

Pure geometry: pages of strokes and words in mm, which a format turns into a file.
"""
