"""What a driver reaches for outside of itself while it is examined: files, environment, programs.

What one driver leaves there another one finds, today or years later, so that a tape would not play
again. Part of the conformance kit. The interpreter tells of each such deed (PEP 578,
`sys.addaudithook`). Not seen is what native code or another thread does past it, what an import
does, and what no byte of the examination makes a driver do. A hook cannot be taken out again; it
looks at nothing but while a driver is at work, and on the thread that it is at work on.
"""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator, Mapping
from itertools import islice
from pathlib import Path
from typing import Any

from acquire.driverapi.fit import shown
from acquire.driverapi.rules import Finding

MOST_TOLD = 5
MOST_SIGNS = 200
_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND
_DEEDS: Mapping[str, str] = {
    **dict.fromkeys(("os.remove", "os.rmdir"), "removes"),
    **dict.fromkeys(("os.rename", "os.link", "os.symlink"), "renames or links"),
    **dict.fromkeys(("os.mkdir", "os.truncate", "os.chmod", "os.utime"), "makes or changes"),
    **dict.fromkeys(("os.putenv", "os.unsetenv"), "changes the environment variable"),
    **dict.fromkeys(("socket.connect", "socket.bind", "socket.sendto"), "opens a connection:"),
    "sqlite3.connect": "opens the database",
    "mmap.__new__": "maps memory that others may have, of file",
    **dict.fromkeys(
        ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.spawn"), "starts"
    ),
    **dict.fromkeys(("os.fork", "os.forkpty"), "starts a copy of the program"),
}
_NAMELESS = ("os.fork", "os.forkpty")
_BYTECODE = f"{os.sep}__pycache__"
_ZONES = "/usr/share/zoneinfo"


class _Hook:
    """The one hook of this program; `watching` is who wants to know, by thread."""

    def __init__(self) -> None:
        self.watching: dict[int, Outside] = {}
        self._is_in = False

    def begin(self, outside: Outside) -> None:
        if not self._is_in:
            self._is_in = True
            sys.addaudithook(self._happened)
        self.watching[threading.get_ident()] = outside

    def end(self) -> None:
        self.watching.pop(threading.get_ident(), None)

    def _happened(self, event: str, arguments: tuple[Any, ...]) -> None:
        if not self.watching or (event != "open" and event not in _DEEDS):
            return
        outside = self.watching.get(threading.get_ident())
        if outside is not None:
            outside.note(event, arguments)


_HOOK = _Hook()


class Outside:
    """What one examination met."""

    def __init__(self, family: object) -> None:
        own = [sys.prefix, sys.base_prefix, sys.exec_prefix, _ZONES, *(p for p in sys.path if p)]
        own += _folders_of(family)
        self._own = tuple(os.path.join(os.path.realpath(folder), "") for folder in own)
        # In the order in which it was met.
        self._met: dict[str, None] = {}

    def over(self, found: Iterator[Finding]) -> Iterator[Finding]:
        """The same findings, looked at while they are found."""
        while True:
            _HOOK.begin(self)
            try:
                one = next(found, None)
            finally:
                _HOOK.end()
            if one is None:
                return
            yield one

    def reached(self) -> Iterator[str]:
        """Each deed, in words."""
        for deed in islice(self._met, MOST_TOLD):
            yield f"{deed}; what one driver leaves there another one finds"

    def note(self, event: str, arguments: tuple[Any, ...]) -> None:
        """An event of the interpreter (its table of audit events)."""
        if event == "open":
            deed = self._opened(*arguments)
        elif event in _NAMELESS:
            deed = f"it {_DEEDS[event]}"
        else:
            named = arguments[1] if event.startswith("socket.") else arguments[0]
            if isinstance(named, bytes):
                named = os.fsdecode(named)
            deed = "" if _is_bytecode(named) else f"it {_DEEDS[event]} {shown(named)}"
        if deed:
            self._met.setdefault(deed)

    def _opened(self, name: object, mode: object, flags: object) -> str:
        if not isinstance(name, str | bytes | os.PathLike):
            return ""  # a number of what is open already
        path = os.path.abspath(os.fsdecode(name))
        if path == os.devnull or _is_bytecode(path):
            return ""
        is_written = bool(isinstance(flags, int) and flags & _WRITES) or (
            isinstance(mode, str) and any(sign in mode for sign in "wax+")
        )
        if is_written:
            return f"it writes the file {_end(path)}"
        if os.path.realpath(path).startswith(self._own):
            return ""  # code, and the tables that come with it
        return f"it reads the file {_end(path)}, which came with no package"


def _end(path: str) -> str:
    """A path; of a very long one the end, which has the name."""
    return repr(path if len(path) <= MOST_SIGNS else f"...{path[3 - MOST_SIGNS :]}")


def _folders_of(family: object) -> list[str]:
    """Where the package of a family lies: one that is installed to be edited is on no path."""
    name = getattr(family, "__module__", "") or type(family).__module__
    package = sys.modules.get(name.partition(".")[0])
    return [os.fspath(folder) for folder in getattr(package, "__path__", ())]


def left_in(folder: Path) -> str:
    """What a driver left in a folder that was empty, in words; empty if nothing."""
    names = sorted(str(path.relative_to(folder)) for path in folder.rglob("*"))
    if not names:
        return ""
    return f"it leaves files: {', '.join(map(repr, names[:MOST_TOLD]))}"


def _is_bytecode(name: object) -> bool:
    return isinstance(name, str | bytes) and _BYTECODE in os.fsdecode(name)
