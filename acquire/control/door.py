"""The door file: where the daemon listens and the token it wants, readable by its user alone.

It lies beside the store, named after it, so that whoever may read the bench's folder as this user
can talk to the daemon, and nobody else can.
"""

from __future__ import annotations

import json
import os
import secrets
from pathlib import Path
from typing import NamedTuple

from acquire.errors import ControlError


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


def read_door(path: Path) -> Door:
    """Read the door file. Raises `ControlError` if there is none, or it is not ours."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        return Door(str(found["host"]), int(found["port"]), str(found["token"]), int(found["pid"]))
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
    except (OSError, ValueError, KeyError, TypeError) as e:
        raise ControlError(
            f"the door file {path} cannot be understood",
            got=str(e),
            next_step="stop the daemon and start coatbench serve again",
        ) from e
