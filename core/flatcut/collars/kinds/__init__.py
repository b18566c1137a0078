"""Kinds of collar, a file each."""
