"""Finds driver plug-ins by entry point, and says which one is unfit.

A plug-in is looked at when it is first asked for. One that cannot be imported or does not fit the
interface is named, with its distribution, and contained: the others go on. One that bears the name
of a family of this house is left out, so that nothing that is installed takes away or exchanges
what a bench reads by. Not imported by
`acquire.driverapi` itself, so that drivers do not pull in what loads them.
"""

from __future__ import annotations

import contextlib
import inspect
import re
import sys
import threading
from collections.abc import Iterable, Iterator
from functools import lru_cache
from importlib.metadata import Distribution, EntryPoint, distributions

from acquire.driverapi.driver import Family
from acquire.errors import DriverError, told

GROUP = "acquire.drivers"
API = 1
OUR_OWN = "drivers."
"""Where the families of this house are."""
_NAME = re.compile(r"^Name:[ \t]*(\S+)", re.IGNORECASE | re.MULTILINE)
_CALLS = {"needs": ("profile", "source"), "driver": ("profile", "source")}


def installed(
    packages: Iterable[Distribution] | None = None,
) -> tuple[tuple[EntryPoint, ...], tuple[str, ...]]:
    """The entry points of all packages, and the names of those whose list of them is damaged.

    One damaged package hides no other one. Of a package that is there twice the first one counts,
    as for an import. A process looks once at what is installed for it, as it imports once.
    """
    return _installed_on(tuple(sys.path)) if packages is None else _brought(packages)


@lru_cache(maxsize=4)
def _installed_on(_path: tuple[str, ...]) -> tuple[tuple[EntryPoint, ...], tuple[str, ...]]:
    return _brought(distributions())


def _brought(packages: Iterable[Distribution]) -> tuple[tuple[EntryPoint, ...], tuple[str, ...]]:
    found: list[EntryPoint] = []
    broken: list[str] = []
    seen: set[str] = set()
    for package in packages:
        name = _name(package)
        if name in seen:
            continue
        seen.add(name)
        try:
            # Most packages bring no driver, and taking their lists apart costs most of the time.
            if GROUP in (package.read_text("entry_points.txt") or ""):
                found += package.entry_points.select(group=GROUP)
        except Exception:
            # Whatever a damaged file makes of the parser.
            broken.append(name)
    return tuple(found), tuple(sorted(broken))


def _name(package: Distribution) -> str:
    """The name of a package, read without its other metadata, of which there are many lines."""
    head = (package.read_text("METADATA") or package.read_text("PKG-INFO") or "").split("\n\n", 1)
    match = _NAME.search(head[0])
    return match[1] if match else str(package.metadata["Name"])


ALONE_S = 2.0
"""So long an import has the others wait, and no longer: the watch names whoever does not come back
(`acquire.pipeline.watch`), and that must be the stranger whose import hangs, not who waits for it.
"""
_LOADING = threading.Lock()
"""One driver is imported at a time: a package and a module in it that two threads begin can wait
for each other, and Python then refuses one of them as a deadlock. The second line of defence where
a bench is served (`Registry.load_ours`), the first wherever else threads ask."""


class Registry:
    """The driver families that are installed; `points` replaces them in tests.

    `broken` are packages whose entry_points.txt cannot be read: what they bring is not known.
    """

    def __init__(self, points: Iterable[EntryPoint] | None = None) -> None:
        found, broken = installed() if points is None else (points, ())
        self.broken: tuple[str, ...] = broken
        self._points: dict[str, list[EntryPoint]] = {}
        self._left_out: dict[str, list[EntryPoint]] = {}
        for point in found:
            self._points.setdefault(point.name, []).append(point)
        for name, rivals in self._points.items():
            ours = [point for point in rivals if point.value.startswith(OUR_OWN)]
            if ours:
                self._left_out[name] = [point for point in rivals if point not in ours]
                self._points[name] = ours
        self._families: dict[str, Family] = {}

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all families installed, fit or not."""
        return tuple(sorted(self._points))

    def origin(self, name: str) -> str:
        """Which package brings the family of this name; several if they quarrel about it."""
        return ", ".join(sorted(set(map(_origin, self._points.get(name, [])))))

    def left_out(self, name: str) -> str:
        """Which other packages bring a family of this name that is not used; empty if none does."""
        return ", ".join(sorted(set(map(_origin, self._left_out.get(name, [])))))

    def values(self, name: str) -> tuple[str, ...]:
        """Where the family of this name is: ``module:object``; several if packages quarrel."""
        return tuple(point.value for point in self._points.get(name, []))

    def is_ours(self, name: str) -> bool:
        """Whether a family of this house bears this name; one that is not there counts as ours."""
        return all(value.startswith(OUR_OWN) for value in self.values(name))

    def load_ours(self, names: Iterable[str]) -> None:
        """Import those of these families that are of this house; one that is unfit tells so later.

        For the thread that starts others, before it does: Python lets one thread wait for a package
        whose module another thread holds, and that one for the package, and gives one of them up.
        What a stranger brings may hang, and is left to the thread that asks for it.
        """
        for name in names:
            if self.is_ours(name):
                with contextlib.suppress(DriverError):
                    self.family(name)

    def family(self, name: str) -> Family:
        """The family of this name. Raises `DriverError` naming what is wrong, or what is there."""
        if name not in self._families:
            self._families[name] = self._load(name)
        return self._families[name]

    def _load(self, name: str) -> Family:
        points = self._points.get(name, [])
        if not points:
            raise DriverError(
                f"there is no driver {name!r}",
                wanted=", ".join(self.names) or "an installed driver",
                next_step="install the package that brings it, or mend 'driver' in bench.toml",
            )
        values = {point.value for point in points}
        if len(values) > 1:
            raise DriverError(
                f"several packages bring a driver {name!r}",
                got=", ".join(sorted(map(_origin, points))),
                wanted="one",
                next_step="uninstall all but one of these packages",
            )
        point = points[0]
        is_alone = _LOADING.acquire(timeout=ALONE_S)
        try:
            family = point.load()
        # Whatever a stranger's module raises on import; some even try to end the program.
        except (Exception, SystemExit) as e:
            raise _unfit(point, f"its import failed: {told(e, 300)}") from e
        finally:
            if is_alone:
                _LOADING.release()
        try:
            faults = list(faults_of(family, name))
        except (Exception, SystemExit) as e:
            faults = [f"looking at it failed: {told(e, 300)}"]
        if faults:
            raise _unfit(point, "; ".join(faults))
        assert isinstance(family, Family)
        return family


def faults_of(family: object, name: str) -> Iterator[str]:
    """Everything in which an object misses the interface of a family of this name."""
    if inspect.isclass(family):
        yield "it is a class where an object of it belongs"
        return
    if getattr(family, "name", None) != name:
        yield f"it calls itself {getattr(family, 'name', 'nothing')!r}, its entry point {name!r}"
    if getattr(family, "api", None) != API:
        yield f"it was made for interface {getattr(family, 'api', 'none')}, this is interface {API}"
    reaches = getattr(family, "reaches", ())
    if not isinstance(reaches, tuple | list) or any(type(way) is not str for way in reaches):
        yield f"its reaches is {ascii(reaches)[:60]} where a tuple of words belongs"
    for call, parameters in _CALLS.items():
        method = getattr(family, call, None)
        if not callable(method):
            yield f"it has no {call}()"
            continue
        try:
            inspect.signature(method).bind(*parameters)
        except (TypeError, ValueError):
            yield f"its {call}() does not take {', '.join(parameters)}"


def _unfit(point: EntryPoint, fault: str) -> DriverError:
    return DriverError(
        f"the driver {point.name!r} of {_origin(point)} cannot be used",
        got=fault,
        wanted=f"a family by interface {API} (DEVELOPERS.md)",
        next_step="update or uninstall that package; other drivers go on",
    )


def _origin(point: EntryPoint) -> str:
    return f"package {point.dist.name}" if point.dist is not None else point.value
