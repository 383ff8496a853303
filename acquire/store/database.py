"""The library that opens the store's file and applies its migrations; imported here alone.

sqlite-utils loads pandas where that is installed, to know its types. No row of the store has any,
and pandas takes longer to load than most commands run; so it is kept out of sight meanwhile.
"""

from __future__ import annotations

import sys

_UNUSED = "pandas"

_is_there = _UNUSED in sys.modules
if not _is_there:
    # None in the place of a module makes its import fail as if it were not installed.
    sys.modules[_UNUSED] = None  # type: ignore[assignment]
try:
    from sqlite_utils import Database
    from sqlite_utils.migrations import Migrations
finally:
    if not _is_there:
        del sys.modules[_UNUSED]

__all__ = ["Database", "Migrations"]
