"""Pieces as an exchange file holds them: points on numbered layers, in sizes that have the same points.

The layers and words are those of ASTM D6673 as far as they are known here (samples/docs/exchange.md says from where).
"""
