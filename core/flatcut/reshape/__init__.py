"""Outlines changed: edges split, merged, opened, turned; and one account of it that carries what stands on them."""
