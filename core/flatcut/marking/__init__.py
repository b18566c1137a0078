"""What follows from a piece: cut line, notch ticks, dart caps, label. One place, asked by every format and check."""
