"""What there is to draw: strokes and words in mm, each with the role it plays. Every output paints roles."""
