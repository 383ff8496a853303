"""That a press of a check stood on another piece, in words. Pure.

The words are stored with the voids of what had counted of the press until another angle told;
whoever finds such a void in the store knows by them that it is none of a person.
"""

from __future__ import annotations

import re

TELLS = "reading {} of its press tells that "
"""How they begin; the number is that of the reading which told."""
_TOLD = re.compile(re.escape(TELLS).replace(re.escape("{}"), "[0-9]+"))


def is_elsewhere(void_reason: str) -> bool:
    """Whether a reading of a check is void since its press stood on another piece."""
    return _TOLD.match(void_reason) is not None
