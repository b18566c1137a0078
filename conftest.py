"""Which flatcut is tested: the installed one, or, where none is installed, the one of this checkout. Never both."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path

CORE = Path(__file__).parent / "core"

if importlib.util.find_spec("flatcut") is None:
    sys.path.insert(0, str(CORE))

_found = importlib.util.find_spec("flatcut")
if _found is None or _found.origin is None or CORE not in Path(_found.origin).resolve().parents:
    # a file of core/ collected here would be imported a second time, beside the installed one of the same name
    collect_ignore = ["core"]
