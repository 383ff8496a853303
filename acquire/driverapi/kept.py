"""What the modules of a driver and its family keep outside of drivers, and whether it changes.

Two drivers share what stands in a module, a class, a family, a default argument or a closure, and
no conversation must show it: a unit that is kept from the last message shows only where the next
one has none. Part of the conformance kit. Looks at plain values, at containers, and at what objects
of the package hold; a name that was None or was not there, and was given a value once, is taken for
a table that is made when it is first wanted. Pure; one thread.
"""

from __future__ import annotations

import sys
from collections import deque
from collections.abc import Iterator, Mapping
from decimal import Decimal
from itertools import islice
from types import CellType, FunctionType, NoneType
from typing import Any

from acquire.driverapi.feeding import TROUBLES
from acquire.driverapi.fit import shown

MOST_INSIDE = 1000
"""So many things are looked at that one container, or one object, leads to."""
_PLAIN = (bool, int, float, str, bytes, Decimal, NoneType)
_HOLDERS = (tuple, frozenset, list, dict, set, bytearray, deque)
_LOOKED_AT = frozenset((*_PLAIN, *_HOLDERS))
_MUTABLE = (list, dict, set, bytearray, deque)
_FAMILY = "the family's "
_NOTHING = repr(None)


class Kept:
    """What is kept now; `look` compares with that, and `changed` tells what any look found."""

    def __init__(self, family: object) -> None:
        module = getattr(family, "__module__", "") or type(family).__module__
        package, _, _ = module.rpartition(".")
        self._package = package or module
        self._family = family
        self._before = dict(self._values())
        self._found: dict[str, str] = {}

    def made(self) -> None:
        """Take what the family has now, after it has read a profile, for what it has to begin with.

        It may keep what it made of the profile.
        """
        self._before |= {k: v for k, v in self._values() if k.startswith(_FAMILY)}

    def look(self) -> None:
        """Note each name whose value is another one now."""
        for name, now in self._values():
            before = self._before.get(name, _NOTHING)
            if before == _NOTHING:
                self._before[name] = now
            elif now != before:
                self._found.setdefault(name, f"{shown(before)} and is {shown(now)}")

    def changed(self) -> Iterator[str]:
        """Look once more, and tell each name whose value became another one, in words."""
        self.look()
        for name, how in self._found.items():
            yield f"{name} is shared by all drivers and is changed by them: it was {how}"

    def _values(self) -> Iterator[tuple[str, str]]:
        for module_name, module in sorted(sys.modules.items()):
            if module is None or not self._is_own(module_name):
                continue
            for name, value in list(vars(module).items()):
                if name.startswith("__"):
                    continue
                if isinstance(value, type):
                    if value.__module__ == module_name:
                        yield from self._of_class(f"{module_name}.{name}", value)
                elif isinstance(value, FunctionType):
                    if value.__module__ == module_name:
                        yield from self._of_function(f"{module_name}.{name}", value)
                elif type(value) in _LOOKED_AT:
                    yield f"{module_name}.{name}", _words(value)
        if not isinstance(self._family, type):
            for name, value in _attributes(self._family).items():
                inside = islice(self._inside(f"{_FAMILY}{name}", value, set()), MOST_INSIDE)
                yield from inside

    def _is_own(self, module: object) -> bool:
        return f"{module}.".startswith(f"{self._package}.")

    def _of_class(self, name: str, owner: type) -> Iterator[tuple[str, str]]:
        for inner, held in list(vars(owner).items()):
            function = getattr(held, "__func__", None) or getattr(held, "fget", None) or held
            if isinstance(function, FunctionType):
                yield from self._of_function(f"{name}.{inner}", function)
            elif not inner.startswith("__") and type(held) in _LOOKED_AT:
                yield f"{name}.{inner}", _words(held)

    def _of_function(self, name: str, function: FunctionType) -> Iterator[tuple[str, str]]:
        yield from islice(self._beside(name, function, set()), MOST_INSIDE)

    def _beside(
        self, name: str, function: FunctionType, seen: set[int]
    ) -> Iterator[tuple[str, str]]:
        """What a function keeps from call to call: its default arguments, and its closure."""
        code = function.__code__
        defaults = function.__defaults__ or ()
        named = code.co_varnames[: code.co_argcount][code.co_argcount - len(defaults) :]
        for argument, value in zip(named, defaults, strict=False):
            yield from self._inside(f"the default of {argument} in {name}", value, seen)
        for argument, value in (function.__kwdefaults__ or {}).items():
            yield from self._inside(f"the default of {argument} in {name}", value, seen)
        for variable, cell in zip(code.co_freevars, function.__closure__ or (), strict=True):
            yield from self._inside(f"{variable} around {name}", _content(cell), seen)

    def _inside(self, name: str, value: object, seen: set[int]) -> Iterator[tuple[str, str]]:
        """A value, and what it holds: containers, functions, objects of the package."""
        if type(value) in _PLAIN:
            yield name, _words(value)
            return
        if id(value) in seen or isinstance(value, type):
            return
        seen.add(id(value))
        if isinstance(value, _HOLDERS):
            if type(value) in _LOOKED_AT or isinstance(value, _MUTABLE):
                yield name, _words(value)
            for key, held in _items(value):
                if type(held) not in _PLAIN:
                    yield from self._inside(f"{name}[{key}]", held, seen)
        elif isinstance(value, FunctionType):
            yield from self._beside(name, value, seen)
        elif self._is_own(type(value).__module__):
            for inner, held in _attributes(value).items():
                yield from self._inside(f"{name}.{inner}", held, seen)


def _attributes(one: object) -> dict[str, Any]:
    """What an object has by its names, those of its classes that are no functions among them."""
    found: dict[str, Any] = {}
    for owner in reversed(type(one).__mro__):
        for name, value in list(vars(owner).items()):
            if not name.startswith("__") and type(value) in _LOOKED_AT:
                found[name] = value
            elif name in _slots(owner):
                # A slot is there whether or not anything is in it.
                found[name] = _slot(value, one)
    found |= getattr(one, "__dict__", {})
    return found


def _slots(owner: type) -> tuple[str, ...]:
    named = vars(owner).get("__slots__", ())
    return (named,) if isinstance(named, str) else tuple(named)


def _slot(descriptor: Any, one: object) -> object:
    try:
        return descriptor.__get__(one)
    except AttributeError:
        return None


def _content(cell: CellType) -> object:
    try:
        return cell.cell_contents
    except ValueError:
        return None  # not filled yet


def _items(holder: Any) -> list[tuple[str, object]]:
    if isinstance(holder, Mapping):
        return [(_words(key), held) for key, held in list(holder.items())[:MOST_INSIDE]]
    if isinstance(holder, bytearray):
        return []
    return [(str(place), held) for place, held in enumerate(list(holder)[:MOST_INSIDE])]


def _words(value: object) -> str:
    """A value as text; empty where a stranger's object in it has none."""
    try:
        return repr(value)
    except TROUBLES:
        return ""
