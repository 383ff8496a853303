"""The installed driver families, looked at without trusting them: what each reaches, or why not.

Our own are looked at in this process. A stranger's package is loaded in a process of its own: its
import may raise, hang, print or end the program, and the list comes all the same. The thread that
asks waits, for at most `LOADS_WITHIN_S` a package that hangs.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from importlib.metadata import EntryPoint
from pathlib import Path
from typing import NamedTuple

from acquire.driverapi.elsewhere import environment, noted
from acquire.driverapi.registry import GROUP, Registry
from acquire.errors import DriverError, told

LOADS_WITHIN_S = 20.0
"""So long may a process take that loads families; the slowest of ours needs less than a second."""


class Known(NamedTuple):
    """A family. `reaches` is what it reaches its devices by; `fault` why it cannot be used.

    `left_out`: the packages whose family of this name is not used.
    """

    name: str
    origin: str
    reaches: tuple[str, ...]
    fault: str = ""
    left_out: str = ""


def known_families(
    registry: Registry | None = None, within_s: float = LOADS_WITHIN_S
) -> list[Known]:
    """Every family that is installed, in the order of their names."""
    own = Registry() if registry is None else registry
    strange = [name for name in own.names if not own.is_ours(name)]
    found = {name: look(own, name) for name in own.names if name not in strange}
    while strange:
        looked_at, ended = _elsewhere(own, strange, within_s)
        found |= {one.name: one._replace(origin=own.origin(one.name)) for one in looked_at}
        strange = strange[len(looked_at) :]
        if strange:
            # The one that it had come to.
            name = strange.pop(0)
            found[name] = Known(name, own.origin(name), (), f"loading it {ended}")
    return [found[name]._replace(left_out=own.left_out(name)) for name in own.names]


def look(registry: Registry, name: str) -> Known:
    """One family, loaded in this process."""
    origin = registry.origin(name)
    try:
        family = registry.family(name)
        return Known(name, origin, tuple(getattr(family, "reaches", ("serial",))))
    except DriverError as error:
        return Known(name, origin, (), error.got or str(error))


def _elsewhere(
    registry: Registry, names: Sequence[str], within_s: float
) -> tuple[list[Known], str]:
    """What a process of its own tells of these, and how it ended if before the last one."""
    points = [(name, value) for name in names for value in registry.values(name)]
    with tempfile.TemporaryDirectory(prefix="coatbench-") as folder:
        book = Path(folder) / "families.jsonl"
        book.touch()
        try:
            status = subprocess.run(  # noqa: S603 - our own program
                [sys.executable, "-m", "acquire.driverapi.families", str(book), json.dumps(points)],
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                env=environment(),
                timeout=within_s,
                check=False,
            ).returncode
            ended = f"ended the program with status {status}"
        except subprocess.TimeoutExpired:
            ended = f"did not come back within {within_s:g} s"
        return [
            Known(name, origin, tuple(reaches), fault)
            for name, origin, reaches, fault, _ in noted(book)
        ], ended


def main() -> None:
    """The first argument is the file for what is found, the other has names and places as JSON."""
    points = [EntryPoint(name, value, GROUP) for name, value in json.loads(sys.argv[2])]
    registry = Registry(points)
    with open(sys.argv[1], "w", encoding="utf-8") as book:
        for name in dict.fromkeys(point.name for point in points):
            try:
                one = look(registry, name)
            except BaseException as trouble:
                one = Known(name, registry.origin(name), (), f"loading it raised {told(trouble)}")
            book.write(json.dumps(one) + "\n")
            book.flush()
    # What it has started (threads that do not end, things to be done at the end) is not awaited.
    os._exit(0)


if __name__ == "__main__":
    main()
