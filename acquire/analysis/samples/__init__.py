"""Readings of one place, and what a handful of figures says by itself. Pure; any thread."""
