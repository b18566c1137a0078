"""flatcut: flat pattern cutting for the garment trade."""

__version__ = "0.1.0"
