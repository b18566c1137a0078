"""The pattern as values: pieces, edges, darts, seams, and the questions one asks of them.

Nothing here changes a value; operations make new ones with `dataclasses.replace`.
"""

import flatcut.pattern.expressions  # noqa: F401  # places are told here what reads the lengths in them
