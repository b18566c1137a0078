"""The layers of an exchange file and the words of its texts: ASTM D6673 (from memory; not verified at the standard)."""

from __future__ import annotations

BOUNDARY = 1
"""The boundary of a piece, a closed line; the texts that say what the piece is stand on it too."""
TURN, CURVE = 2, 3
"""Turn points and curve points of boundary, internal lines, cut-outs and sew lines."""
NOTCH = 4
"""Notches cut as a slit, or as a V."""
MIRROR = 6
"""The line of a fold: the piece is half of what is cut."""
GRAIN = 7
INTERNAL = 8
CUT_OUT = 11
DRILL = 13
SEW = 14
ANNOTATION = 15
T_NOTCH, CASTLE, CHECK, U_NOTCH = 80, 81, 82, 83

LAYERS = (*range(1, 16), 80, 81, 82, 83, 84, 85, 86, 87)
"""All layers that there are."""
OUTLINED = (BOUNDARY, INTERNAL, CUT_OUT, SEW)
"""Layers of lines whose points are marked as turn points or curve points."""
NOTCHES = {"slit": NOTCH, "v": NOTCH, "t": T_NOTCH, "castle": CASTLE, "u": U_NOTCH}
"""The layer of each kind of notch; slit and V are told apart by their width."""

STANDARD = "ASTM/D6673"
"""What the first text of a file begins with."""
