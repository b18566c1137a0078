"""Slash and spread, gathers and pleats."""
