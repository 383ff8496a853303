"""The door file: where the daemon listens and the token it wants, readable by its user alone.

It lies beside the store, named after it, so that whoever may read the bench's folder as this user
can talk to the daemon, and nobody else can.
"""

from __future__ import annotations

import contextlib
import ipaddress
import json
import os
import secrets
import stat
from pathlib import Path
from typing import NamedTuple

from acquire.errors import ControlError

LARGEST_BYTES = 65_536


class Door(NamedTuple):
    """Address and token of a running daemon."""

    host: str
    port: int
    token: str
    pid: int


def door_path(store: Path) -> Path:
    """The door file of the daemon that records into `store`."""
    return store.with_name(store.name + ".door")


def new_token() -> str:
    return secrets.token_urlsafe(32)


def write_door(path: Path, door: Door) -> None:
    """Write the door file with mode 0600 from its first moment, replacing an old one at once.

    Raises `ControlError`.
    """
    fresh = path.with_name(path.name + ".new")
    try:
        fresh.unlink(missing_ok=True)
        handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump(door._asdict(), file)
        fresh.replace(path)
    except OSError as e:
        raise ControlError(
            f"the door file {path} cannot be written",
            got=e.strerror or str(e),
            next_step="make room, or let your user write that folder",
        ) from e


def remove_door(path: Path) -> None:
    """Take the door file away; what else lies in its place stays. Never raises."""
    with contextlib.suppress(OSError):
        path.unlink()


def read_door(path: Path) -> Door:
    """Read the door file. Raises `ControlError` if there is none, or it is not ours."""
    try:
        return _door(_content(path))
    except FileNotFoundError as e:
        raise ControlError(
            "no daemon runs for this bench",
            got=f"no door file {path}",
            next_step="start it: coatbench serve (in another terminal)",
        ) from e
    except PermissionError as e:
        raise ControlError(
            f"the door file {path} is not yours to read",
            next_step="run this as the user who started coatbench serve",
        ) from e
    except (OSError, ValueError) as e:
        raise ControlError(
            f"the door file {path} cannot be understood",
            got=(e.strerror if isinstance(e, OSError) else None) or str(e),
            wanted="the file that coatbench serve writes when it starts",
            next_step=f"end coatbench serve with Ctrl-C, move {path} away and start it again",
        ) from e


def _content(path: Path) -> bytes:
    """At most `LARGEST_BYTES` of a regular file: a pipe in its place would never end."""
    with open(path, "rb", opener=_without_waiting) as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise ValueError("no regular file")
        content = file.read(LARGEST_BYTES + 1)
    if len(content) > LARGEST_BYTES:
        raise ValueError(f"more than {LARGEST_BYTES} bytes")
    return content


def _without_waiting(path: str, flags: int) -> int:
    return os.open(path, flags | getattr(os, "O_NONBLOCK", 0))


def _door(content: bytes) -> Door:
    """Raises ValueError. The token goes to this computer alone, whatever the file says."""
    try:
        found = json.loads(content)
        door = Door(found["host"], found["port"], found["token"], found["pid"])
    except (KeyError, TypeError, RecursionError) as e:
        raise ValueError("no object with host, port, token and pid") from e
    for name, value, kind in zip(Door._fields, door, (str, int, str, int), strict=True):
        if type(value) is not kind:
            raise ValueError(f"{name} is {value!r}"[:100])
    if not ipaddress.ip_address(door.host).is_loopback:
        raise ValueError(f"host is {door.host!r}, which is not this computer")
    if not 0 < door.port < 65536:
        raise ValueError(f"port is {door.port}"[:100])
    return door
