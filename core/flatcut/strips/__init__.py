"""Small parts drafted from the garment's own edges.

strip, kinds  waistbands, cuffs, bindings, straps, ties, tiers      placketing  button stands that are grown on
pocketing     patch pockets, flaps and bags, with their placement
"""
