"""Which programs have a port open, as far as this user may see them; Linux tells it (proc(5)).

Looks at lists of the system alone and opens nothing. Slow where there are many processes, so it is
asked seldom: after a failure, at a connection, or by a person. Any thread.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

LOCK_FILES = Path("/var/lock")
"""Where programs that share ports say who has one (Filesystem Hierarchy Standard 3.0, 5.9)."""
_PSEUDO_TERMINAL = re.compile(r"/dev/pts/([0-9]+)")


def holder(target: str) -> str:
    """The program that has the port for itself, or those that have it open, where we may see."""
    try:
        wanted = os.stat(target)
    except OSError:
        return "another program has it open"
    locking = [_named(pid) for pid in _lockers(wanted)]
    if locking:
        return f"{', '.join(locking)} has it for itself"
    opening = [_named(pid) for pid in _openers(wanted)]
    return f"{', '.join(opening)} has it open" if opening else "another program has it open"


def users_of(target: str, but: int | None = None, lock_files: Path = LOCK_FILES) -> dict[int, str]:
    """The programs that have a port open, where we may see them, in words, by process.

    None where it is free, or where it is no file. `but` is a process that is not meant.
    """
    try:
        wanted = os.stat(target)
    except OSError:
        return {}
    # Whose processes we may not look into says so in a file.
    own = _claimants(lock_files, target)
    pids = dict.fromkeys([*_lockers(wanted), *_openers(wanted), *own])
    return {pid: _named(pid) for pid in pids if pid != but}


def opened_by(target: str, but: int | None = None, lock_files: Path = LOCK_FILES) -> list[str]:
    """The programs of `users_of` in words."""
    return list(users_of(target, but, lock_files).values())


def is_user(pid: int, target: str) -> bool:
    """Whether one process has a port open still; quick. True of one that we may not look into."""
    try:
        wanted = os.stat(target)
        return bool(_openers(wanted, str(pid))) or not _may_look_into(pid)
    except OSError:
        return False


def _may_look_into(pid: int) -> bool:
    """Whether what a process has open is told to us; so, too, if there is none."""
    try:
        os.listdir(f"/proc/{pid}/fd")
    except PermissionError:
        return False
    except OSError:
        return True
    return True


def _claimants(folder: Path, target: str) -> list[int]:
    """The process that claims a port in its lock file, if it still runs."""
    try:
        text = (folder / f"LCK..{Path(target).name}").read_text(encoding="ascii", errors="replace")
        pid = int(text.split()[0])
    except (OSError, ValueError, IndexError):
        return []
    return [pid] if pid > 0 and Path(f"/proc/{pid}").exists() else []


def _lockers(wanted: os.stat_result) -> list[int]:
    """Processes with a lock on the file, by Linux's list of locks (proc(5))."""
    place = f"{os.major(wanted.st_dev):02x}:{os.minor(wanted.st_dev):02x}:{wanted.st_ino}"
    try:
        lines = Path("/proc/locks").read_text().splitlines()
    except OSError:
        return []
    words = [line.split() for line in lines]
    # A line with an arrow is somebody who waits for the lock.
    return [int(w[4]) for w in words if len(w) > 5 and w[1] == "FLOCK" and w[5] == place]


def _openers(wanted: os.stat_result, whose: str = "[0-9]*") -> list[int]:
    """Processes that have the file open, as far as we may look into them."""
    pids: dict[int, None] = {}
    for descriptor in Path("/proc").glob(f"{whose}/fd/*"):
        try:
            if os.path.samestat(descriptor.stat(), wanted):
                pids[int(descriptor.parts[2])] = None
        except OSError:
            continue
    return list(pids)


def has_far_end(pid: int, target: str) -> bool:
    """Whether a process is what is plugged in at a pseudo-terminal; false of all other ports.

    It may have this end open besides, so that it does not hang up between two users.
    """
    found = _PSEUDO_TERMINAL.fullmatch(os.path.realpath(target))
    if found is None:
        return False
    for info in Path("/proc").glob(f"{pid}/fdinfo/*"):
        try:
            if f"tty-index:\t{found[1]}" in info.read_text().splitlines():
                return True
        except OSError:
            continue
    return False


def _named(pid: int) -> str:
    if pid == os.getpid():
        return f"this program (process {pid})"
    try:
        name = Path(f"/proc/{pid}/comm").read_text(errors="replace").strip()
    except OSError:
        name = "a program"
    return f"{name} (process {pid})"
