"""Editions of the rules by which checks are judged. Pure.

A judgement keeps the edition that made it and must come out again by that, to the last digit and
letter, whatever the rules say by now. So a rule or a sentence that changes gets a new edition, and
the old one stays beside it.

1. Figures in sentences have two decimals, certified values and limits all digits that a conversion
   gave them. A piece is judged by the mean of two readings or more.
2. Figures go by their uncertainty (`acquire.calibration.written`). A piece of which every reading
   is by itself outside the limit was found outside, however it scatters, and be it read but once
   in a check that was broken off.
"""

from __future__ import annotations

EDITION = 2
"""That judges now: raised whenever the same readings are judged otherwise, or in other words."""
EDITIONS = (1, 2)
"""By which a check can be judged."""
FIRST = 1
EVERY_READING_OUTSIDE = 2
"""The edition from which on a piece is found outside by each of its readings."""
