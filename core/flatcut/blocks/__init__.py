"""Drafting of fitted blocks: pure functions from measurements to pieces.

body        measurements, their usual ranges, tables of them        neck_and_across, bust_only  the two methods: frames
frame       what a method says of a body                            upper       curves over a frame
fairing     single fair curves                                      opening     seams drawn closed, darts then opened
bodice, torso, dress, skirt, sleeve                                 the blocks, as Draft values

Nothing here knows operations: `operations/block.py` gives these functions their parameters.
"""
