"""Checks of a pattern: one file each, found by looking at the files of this folder."""
