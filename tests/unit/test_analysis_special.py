"""The special functions come without what numpy has for tests and Fortran, and leave it there."""

from __future__ import annotations

import subprocess
import sys

_PROGRAM = """
import sys
import numpy
from acquire.analysis.special import ndtr
assert ndtr(0.0) == 0.5
print([name for name in ("numpy.f2py", "numpy.testing") if name in sys.modules])
numpy.testing.assert_equal(1, 1)
print(numpy.f2py.__name__)
"""


def test_numpys_tools_are_loaded_when_somebody_asks_for_them_and_not_before() -> None:
    told = subprocess.run(
        [sys.executable, "-c", _PROGRAM], capture_output=True, text=True, check=True
    )
    assert told.stdout.split("\n") == ["[]", "numpy.f2py", ""]
