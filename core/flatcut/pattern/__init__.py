"""The pattern as values: pieces, edges, darts, seams, and the questions one asks of them.

Nothing here changes a value; operations make new ones with `dataclasses.replace`.
"""
