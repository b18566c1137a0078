"""What is said beside every computed picture of a garment."""

CAUTION = (
    "A computed picture replaces no toile. The form is one posture made from the measurements of the body; it does not "
    "move or breathe, cloth does not feel other cloth, and the cloth's figures are of ordinary size, not measured. Sew "
    "a toile before cloth is cut."
)
