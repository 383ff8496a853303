"""Presses as they were heard: bytes, lines and pauses, and what a person said of them. Pure."""
