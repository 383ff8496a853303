"""How long a test waits for what is to come: only what stands still for good takes so long.

A wait ends as soon as it came, so that a long one costs nothing; a short one breaks where the
machine has other work. It is less than a test may take in all (`timeout` in pyproject.toml).
"""

from __future__ import annotations

PATIENCE_S = 90.0
