"""Traces of pulls with known truth, by physics and by seed, and how well the pulls are found."""
