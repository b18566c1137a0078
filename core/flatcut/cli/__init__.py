"""The command line. Exit: 0 done; 1 done, but look at the notes; 2 the call or the input is wrong, nothing written."""

from flatcut.cli.main import main

__all__ = ["main"]
