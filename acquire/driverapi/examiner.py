"""Examines an installed driver family, in a process of its own: ``python -m`` this, by `examined`.

The task comes as one JSON object on standard input; what is found goes as JSON lines into the file
that is named, each at once, so that whoever waits knows how far it came when the driver hangs or
ends the process. Nothing that a driver prints gets in between. Main thread.
"""

from __future__ import annotations

import contextlib
import json
import sys
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from importlib import import_module
from importlib.metadata import EntryPoint
from pathlib import Path
from types import ModuleType
from typing import Any, TextIO

from acquire.driverapi.capture import Capture, capture
from acquire.driverapi.conformance import stages
from acquire.driverapi.driver import Family
from acquire.driverapi.feeding import TROUBLES, said
from acquire.driverapi.registry import GROUP, Registry
from acquire.driverapi.rules import Rule
from acquire.errors import CoatbenchError, NotFound, SettingsError, told
from acquire.schema import load_toml

MOST_MEMORY_BYTES = 4 << 30
MOST_TOLD = 20
"""Findings told of one stage; a driver that is wrong at every byte fills no disk."""


class _Book:
    """Where the findings go, line by line."""

    def __init__(self, file: TextIO) -> None:
        self._file = file

    def note(self, **entry: object) -> None:
        self._file.write(json.dumps(entry) + "\n")
        self._file.flush()


def family_of(place: str) -> Family:
    """The family of an installed name, or of ``module:object``.

    Raises `NotFound` where nothing is at that place, `DriverError` for what is no driver.
    """
    module, colon, name = place.partition(":")
    if not colon:
        return Registry().family(place)
    _require(module, name)
    # Its entry point is called as the family calls itself.
    point = EntryPoint(place, place, GROUP)
    try:
        name = getattr(point.load(), "name", module)
    except TROUBLES:
        name = module
    name = name if isinstance(name, str) else module
    return Registry([EntryPoint(name, place, GROUP)]).family(name)


def _require(module: str, name: str) -> None:
    """Raises `NotFound` where there is no such module, or nothing of that name in it."""
    try:
        there = import_module(module)
        is_there = hasattr(there, name.partition(".")[0])
    except ModuleNotFoundError as error:
        # Else it is there and wants another one that is not, which is the driver's own fault.
        if error.name and f"{module}.".startswith(f"{error.name}."):
            raise NotFound(
                f"there is no module {module!r}",
                got=f"{module}:{name}",
                wanted="MODULE:OBJECT of a driver that Python can import from here",
                next_step="go to the folder that it is in, or install its package; "
                "coatbench driver list shows what is installed",
            ) from error
        return
    except TROUBLES:
        return  # told where it is loaded
    if not is_there:
        raise NotFound(
            f"there is no {name!r} in the module {module!r}",
            got=f"{module}:{name}",
            wanted=", ".join(_families_in(there)) or "a driver family, and there is none in it",
            next_step="name the family as the module does",
        )


def _families_in(module: ModuleType) -> list[str]:
    """Names in a module that look like driver families."""
    return [
        f"{module.__name__}:{name}"
        for name, one in vars(module).items()
        if not isinstance(one, type) and callable(getattr(one, "driver", None))
    ]


def examine(task: Mapping[str, Any], book: _Book) -> None:
    """Work a task off; every fault of the driver and of the files is noted and none is raised."""
    book.note(stage="loading", tries=[Rule.INTERFACE.value], profile="")
    try:
        family = family_of(task["place"])
    except NotFound as error:
        book.note(nowhere=[error.what, error.got, error.wanted, error.next_step])
        return
    except CoatbenchError as error:
        book.note(rule=Rule.INTERFACE.value, what=str(error), profile="")
        return
    profiles = dict(_profiles(family, task, book))
    captures = list(_captures(family, task, book))
    if not profiles:
        return
    book.note(profiles=list(profiles))
    # A profile of its own is whose the captures are that were given for it.
    is_alone = len(profiles) == 1 and bool(task["captures"])
    if not task["captures"]:
        captures = [one for one in captures if one[0] in profiles]
    left = [name for name, _ in captures if name not in profiles and not is_alone]
    if left and len(left) == len(captures):
        what = f"captures of {_names(left)} alone, where the profiles are {_names(profiles)}"
        book.note(fault=what)
    elif left:
        book.note(passed_over=list(dict.fromkeys(left)))
    share = task["bytes"] // len(profiles) + 1
    for name, table in profiles.items():
        of_it = [one for whose, one in captures if whose == name or is_alone]
        book.note(captures=len(of_it), profile=name)
        for stage in stages(
            family,
            table,
            of_it,
            f"profile {name}",
            task["seed"],
            is_asked=bool(getattr(family, "is_asked", False)),
            spoilt_bytes=share,
        ):
            book.note(stage=stage.name, tries=[rule.value for rule in stage.tries], profile=name)
            for number, (rule, what) in enumerate(stage.found):
                if number < MOST_TOLD:
                    book.note(rule=rule.value, what=what, profile=name)


def _profiles(
    family: Family, task: Mapping[str, Any], book: _Book
) -> Iterator[tuple[str, dict[str, Any]]]:
    """Those that were named, else all that the family takes of those that are found."""
    for path in map(Path, task["profiles"]):
        with _faults_noted(book):
            yield path.stem, load_toml(path)
    if task["profiles"]:
        return
    for folder in [*map(Path, task["folders"]), *_own_folder(family, "profiles")]:
        for path in sorted(folder.glob("*.toml")):
            try:
                table = load_toml(path)
                family.needs(table, path.stem)
            except SettingsError:
                continue  # of another family
            except TROUBLES as trouble:
                what = f"reading the profile {path.name} {said(trouble)}, wanted SettingsError"
                book.note(rule=Rule.INTERFACE.value, what=what, profile=path.stem)
                continue
            yield path.stem, table


def _names(names: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(names))


def _own_folder(family: Family, name: str) -> Iterator[Path]:
    """A folder of the package that brings the family."""
    module = sys.modules.get(type(family).__module__)
    if (file := getattr(module, "__file__", None)) is not None:
        yield Path(file).parent / name


def _captures(
    family: Family, task: Mapping[str, Any], book: _Book
) -> Iterator[tuple[str, Capture]]:
    """Each with the profile it belongs to: by its entry ``profile``, else by its folder."""
    paths = [Path(path) for path in task["captures"]]
    if not paths and not task["profiles"]:
        # A profile that was named may be called as one that comes along and be another.
        folders = [Path(task["shipped"])] if task["shipped"] else []
        folders += _own_folder(family, "captures")
        paths = [path for folder in folders for path in sorted(folder.glob("**/*.toml"))]
    for path in paths:
        with _faults_noted(book):
            try:
                table = tomllib.loads(path.read_text("utf-8"))
                one = capture(table, path.stem)
            except OSError as trouble:
                book.note(fault=f"{path} cannot be read: {trouble.strerror or trouble}")
                continue
            except KeyError as trouble:
                book.note(fault=f"{path} is no capture: it has no entry {trouble}")
                continue
            except (TypeError, ValueError, AttributeError) as trouble:
                book.note(fault=f"{path} is no capture: {trouble}"[:300])
                continue
            yield str(table.get("profile", path.absolute().parent.name)), one


@contextlib.contextmanager
def _faults_noted(book: _Book) -> Iterator[None]:
    try:
        yield
    except (CoatbenchError, OSError, ValueError) as trouble:
        book.note(fault=told(trouble))


def _bound_memory() -> None:
    """Let a driver that fills the memory fail by itself, where the system can do that."""
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource  # noqa: PLC0415 - not on every system

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))


def main() -> None:
    """Standard input has the task, the one argument is the file for what is found."""
    _bound_memory()
    task = json.loads(sys.stdin.read())
    with open(sys.argv[1], "w", encoding="utf-8") as file:
        book = _Book(file)
        try:
            examine(task, book)
        except BaseException as trouble:
            book.note(ended=told(trouble, 500))
            return
        book.note(done=True)


if __name__ == "__main__":
    main()
