"""Wash life in words: what is left of a gain, how long it lasted, and how that was decided."""
