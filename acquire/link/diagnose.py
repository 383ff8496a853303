"""Why a link could not be opened, in words, with the next step for the person at the bench.

Looks at the error, the device file and, on Linux, at who else has it open (`users`). Changes
nothing; may be slow where there are many processes, and is called only after a failure. Any thread.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator, Sequence
from pathlib import Path

from acquire.errors import LinkUnavailable
from acquire.link.find import PLUG
from acquire.link.users import holder

_PERMISSION = (errno.EACCES, errno.EPERM)
_BUSY = (errno.EBUSY, errno.EAGAIN, errno.EWOULDBLOCK)
_ABSENT = (errno.ENOENT, errno.ENODEV, errno.ENXIO)
_NO_ROUTE = (errno.EHOSTUNREACH, errno.ENETUNREACH, errno.EHOSTDOWN)
_NO_TERMINAL = (errno.ENOTTY, errno.EISDIR)
_SETTINGS = (errno.EINVAL, errno.EOPNOTSUPP)


SERIAL_SERVER, DEVICE = "serial server", "device"
"""What answers in the network: a server with a line behind it, or the device itself."""


def unavailable(
    target: str, error: BaseException, there: str = "", peer: str = SERIAL_SERVER
) -> LinkUnavailable:
    """The error as one clear message. `there` says which ports are there instead, where known;
    `peer` what is expected to answer in the network.
    """
    if "://" in target:
        return _network(target, error, peer)
    codes = set(_codes(error))
    if codes.intersection(_ABSENT) or not _exists(target):
        return LinkUnavailable(
            f"{target} is not there",
            got=f"no such port; {there}" if there else "no such port",
            next_step=PLUG,
        )
    if codes.intersection(_PERMISSION):
        return LinkUnavailable(
            f"{target} may not be opened",
            got="no permission",
            wanted="read and write",
            next_step=permission_step(Path(target)),
        )
    if codes.intersection(_BUSY):
        return LinkUnavailable(
            f"{target} is in use",
            got=holder(target),
            wanted="the port free",
            next_step="end the other program, or name another port in bench.toml",
        )
    if codes.intersection(_NO_TERMINAL):
        return LinkUnavailable(
            f"{target} is no serial port",
            got=str(error),
            next_step="name another port in bench.toml",
        )
    if codes.intersection(_SETTINGS) or any(isinstance(e, ValueError) for e in _chain(error)):
        return LinkUnavailable(
            f"{target} does not take the line settings",
            got=str(error),
            wanted="baud rate, data bits, parity and stop bits that the port can do",
            next_step="correct [line] in the profile, or use another adapter",
        )
    if errno.EIO in codes:
        return LinkUnavailable(
            f"{target} is a name without a port behind it", got=str(error), next_step=PLUG
        )
    return LinkUnavailable(
        f"{target} cannot be opened",
        got=str(error) or repr(error),
        next_step="unplug the device, plug it in again, and look at the link in bench.toml",
    )


def one_client(peer: str) -> str:
    """What to do where the far side hangs up at once (common practice, no source)."""
    return (
        f"look whether another program or computer is connected to that {peer}, and end it there: "
        "many serve one at a time. It is found by itself as soon as it is free"
    )


class TurnedAway(OSError):
    """The far side took the connection and hung up before a byte had passed."""


def _network(target: str, error: BaseException, peer: str) -> LinkUnavailable:
    if any(isinstance(one, TurnedAway) for one in _chain(error)):
        return LinkUnavailable(
            f"{target} answers and hangs up at once",
            got="a connection that was closed before a byte had come",
            wanted=f"a {peer} that is free",
            next_step=one_client(peer),
        )
    codes = set(_codes(error))
    wanted = f"a {peer} that takes connections there"
    if errno.ECONNREFUSED in codes:
        got, step = (
            "connection refused",
            f"switch the {peer} on, or mend its url in bench.toml",
        )
    elif any(isinstance(e, TimeoutError) for e in _chain(error)) or errno.ETIMEDOUT in codes:
        got, step = "no answer", f"look at the cable and the power of the {peer}"
    elif codes.intersection(_NO_ROUTE):
        got, step = (
            "no way to it in the network",
            "look at the network cable and the url in bench.toml",
        )
    else:
        got, step = str(error) or repr(error), "mend the url in bench.toml"
    return LinkUnavailable(f"{target} does not answer", got=got, wanted=wanted, next_step=step)


def _chain(error: BaseException | None) -> Iterator[BaseException]:
    """An error and those it was raised from: pySerial keeps the number in the inner one."""
    while error is not None:
        yield error
        error = error.__cause__ or error.__context__


def _codes(error: BaseException) -> Iterator[int]:
    for one in _chain(error):
        code = getattr(one, "errno", None)
        if isinstance(code, int):
            yield code
        elif one.args and isinstance(one.args[0], int):  # termios.error has no errno
            yield one.args[0]


def _exists(target: str) -> bool:
    # A Windows port such as COM3 is no path.
    return os.name != "posix" or os.path.lexists(target)


def permission_step(path: Path) -> str:
    """What lets the user open a port, by whatever name it is called."""
    try:
        import grp  # noqa: PLC0415 - POSIX only

        found = path.stat()
        group = grp.getgrgid(found.st_gid).gr_name
        may = found.st_mode & stat.S_IRGRP and found.st_mode & stat.S_IWGRP
        if may and _is_listed(found.st_gid):
            return f"your user is in the group {group} that owns it: log out and in again"
        if may and group != "root":
            return (
                f"add your user to the group {group} that owns it (usermod -aG {group} USER, as "
                "root) and log in again"
            )
    except (ImportError, OSError, KeyError):
        pass
    # A name that stays leads to the port by a link, and a rule finds it by the kernel's name alone.
    own = Path(os.path.realpath(path)).name
    # Of all terminals this is to be the one sort: the screen that somebody logs in at is one, too.
    sort = own.rstrip("0123456789")
    kernel = f"{sort}[0-9]*" if sort and sort != own else own
    return udev_step(f'SUBSYSTEM=="tty", KERNEL=="{kernel}"', ("dialout", "uucp"))


RULES_FILE = "/etc/udev/rules.d/70-coatbench.rules"
"""Rules of one's own lie there and end in .rules (udev(7)). One that tags for whoever sits at the
computer must come before 73-seat-late.rules of systemd, which reads the tag (from memory)."""


def udev_step(match: str, groups: Sequence[str]) -> str:
    """What lets a user open what a match of udev's finds (udev(7), udevadm(8)).

    The group is the first of `groups` that this computer has: udev passes over one it does not
    know, and the device stays root's.
    """
    group = _known_group(groups)
    named = f', GROUP="{group}"' if group else ""
    join = (
        f"; who is not logged in at its screen needs the group besides (usermod -aG {group} USER, "
        "as root) and logs in again"
        if group
        else ""
    )
    return (
        f"let your user open it by a udev rule: as root write the line {match}, "
        f'MODE="0660"{named}, TAG+="uaccess" into {RULES_FILE}, '
        "then udevadm control --reload, and plug it in again (what is built in: start the computer "
        f"anew){join}"
    )


def _known_group(groups: Sequence[str]) -> str:
    """The first that is there; empty if none is."""
    try:
        import grp  # noqa: PLC0415 - POSIX only

        there = {one.gr_name for one in grp.getgrall()}
    except ImportError:
        return ""
    return next((group for group in groups if group in there), "")


def _is_listed(gid: int) -> bool:
    """Whether the user is in a group since this session began."""
    import grp  # noqa: PLC0415 - POSIX only
    import pwd  # noqa: PLC0415

    user = pwd.getpwuid(os.geteuid()).pw_name
    return waits_for_login(user, grp.getgrgid(gid).gr_mem, gid, [*os.getgroups(), os.getegid()])


def waits_for_login(user: str, members: Sequence[str], gid: int, own: Sequence[int]) -> bool:
    """Whether somebody is a member of a group that their running programs have not yet."""
    return user in members and gid not in own
