"""The cut list: what is cut of which material, how large, what else is needed, and how much cloth at least."""
