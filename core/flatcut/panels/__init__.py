"""Pieces cut into panels along lines and darts."""
