"""Factors that turn a mean moving range of two neighbours into a scatter and into its limit.

For the range of two values of a normal law the integrals have closed forms: the range is |x - y|,
a half-normal variable of scale sigma sqrt(2). Published: d2 = 1.128, d3 = 0.853, D4 = 3.267
(ISO 7870-2:2013, table 2; e-Handbook of NIST/SEMATECH, 6.3.2.2; from memory, rounded there).
"""

from __future__ import annotations

import math

D2 = 2 / math.sqrt(math.pi)
"""Mean of the range of two, in sigma."""

D3 = math.sqrt(2 - 4 / math.pi)
"""Standard deviation of the range of two, in sigma."""

RANGE_UPPER = 1 + 3 * D3 / D2
"""D4 of ISO 7870-2: upper limit of a moving range over its mean. The lower limit D3 is 0."""

DISPLAY = 1 / math.sqrt(12)
"""Standard uncertainty of a display over its step (JCGM 100:2008, F.2.2.1)."""
