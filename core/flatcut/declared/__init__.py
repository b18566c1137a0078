"""Declaring parameters once: operations, checks and reports are frozen dataclasses whose fields say all of them.

`fields.py` holds the kinds of parameter, `declared.py` the base class, `registry.py` finds what the files of a folder
declare, `resolve.py` fills empty references, `quoting.py` writes words of a command line.
"""
