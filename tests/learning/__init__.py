"""Meters that nobody documented, drawn at random, and how well they are learned."""
