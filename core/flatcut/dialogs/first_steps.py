"""What to do first in the editor: one entry at the head of the menu, with a window that says it."""

from __future__ import annotations

COMMAND, TITLE = "first-steps", "0 First steps"
"""What the script is told when its button is pressed; and what the menu calls it, which the editor sorts by name."""

LINES = (
    "Draw a closed outline with the pen: a black stroke and no fill (Object > Fill and Stroke).",
    "Select it and press 1 Prepare > Make piece: its edges run from corner to corner, e1, e2 ... clockwise.",
    "1 Prepare > Show names and figures writes the names on the drawing; Name edge gives others.",
    "With 'Edit nodes' both corners of an edge select that edge, and a node on it that place.",
    "A stroke drawn across an edge, selected with its piece, says where: for a dart, a notch, a cut.",
    "6 Finish > Add allowance gives selected pieces or edges their allowance and draws the cut line.",
    "Select two pieces and press 1 Prepare > Sew edges; then 6 Finish > Add notch puts notches on both.",
    "6 Finish > Label piece and Set grain line say how it is cut.",
    "8 Report > Check marks what does not go together, 8 Report > Print makes the paper pattern.",
    "What a press did stands beside the piece and is never printed. One press is one step back with undo.",
)
"""One step each, in the order of the work."""
