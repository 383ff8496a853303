"""The special functions of scipy: loaded without what nobody here asks for."""

from __future__ import annotations

import subprocess
import sys

PARTS = ("f2py", "testing")

LOAD = f"""
import sys
import acquire.analysis.laws.special
import numpy
loaded = [part for part in {PARTS} if f"numpy.{{part}}" in sys.modules]
there = [part for part in {PARTS} if getattr(numpy, part).__name__ == f"numpy.{{part}}"]
print(loaded, there)
"""


def test_they_load_no_part_of_numpy_that_nobody_uses_and_leave_it_to_whoever_asks() -> None:
    # A compiler of Fortran and a kit for tests: 0.05 s of each command that reckons.
    done = subprocess.run([sys.executable, "-c", LOAD], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == f"[] {list(PARTS)}"
