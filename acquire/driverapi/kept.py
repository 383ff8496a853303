"""What the modules of a driver keep outside of its drivers, and whether using them changes it.

Two drivers share what stands in a module or a class, and no conversation must show it: a unit that
is kept from the last message shows only where the next one has none. Part of the conformance kit.
Looks at plain values and containers; a name that was None and was given a value once is taken for a
table that is made when it is first wanted. Pure; one thread.
"""

from __future__ import annotations

import sys
from collections import deque
from collections.abc import Iterator
from decimal import Decimal
from types import NoneType

from acquire.driverapi.feeding import TROUBLES
from acquire.driverapi.fit import shown

_LOOKED_AT = frozenset(
    (
        *(bool, int, float, str, bytes, Decimal, tuple, frozenset, NoneType),
        *(list, dict, set, bytearray, deque),
    )
)


class Kept:
    """What is kept now; `changed` compares with that."""

    def __init__(self, family: object) -> None:
        module = getattr(family, "__module__", "") or type(family).__module__
        package, _, _ = module.rpartition(".")
        self._package = package or module
        self._before = dict(self._values())

    def changed(self) -> Iterator[str]:
        """Each name whose value is another one now, in words."""
        after = dict(self._values())
        for name, before in self._before.items():
            now = after.get(name, before)
            if now != before and before != repr(None):
                yield (
                    f"{name} is shared by all drivers and is changed by them: it was "
                    f"{shown(before)} and is {shown(now)}"
                )

    def _values(self) -> Iterator[tuple[str, str]]:
        for module_name, module in sorted(sys.modules.items()):
            if module is None or not f"{module_name}.".startswith(f"{self._package}."):
                continue
            for name, value in list(vars(module).items()):
                if name.startswith("__"):
                    continue
                if isinstance(value, type) and value.__module__ == module_name:
                    for inner, held in list(vars(value).items()):
                        if not inner.startswith("__") and type(held) in _LOOKED_AT:
                            yield f"{module_name}.{name}.{inner}", _words(held)
                elif type(value) in _LOOKED_AT:
                    yield f"{module_name}.{name}", _words(value)


def _words(value: object) -> str:
    """A value as text; empty where a stranger's object in it has none."""
    try:
        return repr(value)
    except TROUBLES:
        return ""
