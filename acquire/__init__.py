"""Coatbench: from a press of a meter's button to a checked, stored, explained result."""

__version__ = "0.1.0"
