"""How the commands that are no operation and no report are called."""

from __future__ import annotations

USAGES: dict[str, str] = {
    "run": """\
flatcut run STYLE.recipe [-i IN.svg] [-o OUT.svg] [--measures=FILE]
flatcut run STYLE.recipe A.svg B.svg... --into=DIR [--measures=FILE]
flatcut run STYLE.recipe --sizes=TABLE.toml --into=DIR

  --measures=FILE  a TOML file of one body's measurements, which go before those of the recipe
  --sizes=TABLE.toml  a table of bodies; the recipe begins with a block and is drafted for each
  --into=DIR  folder for the results; one drawing for each input, or for each size
  --in-place  the drawing given with -i is written over
  --jobs=N  so many at a time""",
    "collect": """\
flatcut collect A.svg B.svg... [-o OUT.svg]

  --prefix  the file's name goes in front of each piece's, so that equal names can stand side by side""",
    "operations": "flatcut operations [OPERATION...]",
    "editor": """\
flatcut editor install|status|remove

  --profile=DIR  the editor's own folder, where it is not found by itself
  --program=FILE  the editor's program
  --fetch=true|false  whether packages that the editor's interpreter lacks are fetched (default true)""",
    "dialogs": """\
flatcut dialogs --write|--check

  --write  write the dialog files of the editor anew
  --check  exit code 1 when one is out of date""",
    "demo": "flatcut demo DIR",
}
"""Usage lines and options of each."""
