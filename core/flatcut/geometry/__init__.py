"""Curves, lengths, intersections and offsets of plane cubic Béziers, in numpy only (`region` alone asks shapely).

Millimetres, x to the right, y down as on the screen; positive angles turn clockwise on the screen.
"""
