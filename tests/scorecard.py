"""A scorecard of one item, for all tests that need some scorecard."""

from __future__ import annotations

CARD = """[scorecard]
id = "yard"
version = 1
title = "Yard"
[[change]]
id = "gloss"
title = "Gloss gained"
quantity = "gloss"
geometry = 20
direction = "up"
points = 2
"""
