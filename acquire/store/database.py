"""The library that opens the store's file and applies its migrations; imported here alone.

sqlite-utils loads numpy and pandas where they are installed, to know their types. No row of the
store has any, and to load them takes longer than most commands run; so they are kept out of sight
meanwhile.
"""

from __future__ import annotations

import sys

_UNUSED = [name for name in ("numpy", "pandas") if name not in sys.modules]

for _name in _UNUSED:
    # None in the place of a module makes its import fail as if it were not installed.
    sys.modules[_name] = None  # type: ignore[assignment]
try:
    from sqlite_utils import Database
    from sqlite_utils.migrations import Migrations
finally:
    for _name in _UNUSED:
        del sys.modules[_name]

__all__ = ["Database", "Migrations"]
