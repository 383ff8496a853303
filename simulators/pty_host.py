"""A serial port of the operating system, made of a pseudo-terminal, with a name that stays.

The device holds only the master. While nobody has the slave open the master shows a hang-up, and
that is how the device knows that nobody listens: what it sends then is lost, as on a real line.
Holding a slave of its own would hide that, and old lines would wait for whoever opens the port
next. For the same reason what a reader left unread is taken out when it closes.

The link (a by-id name of the port) always points at the present slave. Where the system has no
pseudo-terminals this module cannot be imported. One thread.
"""

from __future__ import annotations

import contextlib
import os
import select
import socket
import termios
import tty
from pathlib import Path

from simulators.host import PENDING_BYTES

# While nobody has the port open nothing wakes the device when somebody does. It has to look.
LOOK_S = 0.005

# The codes of the speeds that the system knows by name; of others nothing is known.
BAUDS = {
    getattr(termios, name): int(name[1:])
    for name in dir(termios)
    if name[0] == "B" and name[1:].isdecimal() and name != "B0"
}


class PtyHost:
    """A pseudo-terminal behind an optional link."""

    def __init__(self, link: Path | None = None) -> None:
        self.link = link
        self.slave = ""
        self.lost_bytes = 0
        self._master: int | None = None
        self._poll = select.poll()
        self._listening = False
        self._pending = bytearray()

    @property
    def plugged(self) -> bool:
        return self._master is not None

    @property
    def baud(self) -> int | None:
        # The master shows what was set on the slave. Of the format a pseudo-terminal keeps nothing.
        if self._master is None:
            return None
        with contextlib.suppress(termios.error):
            return BAUDS.get(termios.tcgetattr(self._master)[5])
        return None

    @property
    def wait_s(self) -> float | None:
        return None if self._master is None or self._listening else LOOK_S

    def address(self) -> dict[str, object]:
        return {"path": str(self.link or self.slave), "device": self.slave}

    def plug(self) -> None:
        if self._master is not None:
            return
        if self.link is not None and self.link.exists() and not self.link.is_symlink():
            raise FileExistsError(f"{self.link}: got a file of another kind, wanted a free name")
        master, slave = os.openpty()
        self._master = master
        self._listening = False
        self._poll.register(master, 0)
        try:
            tty.setraw(slave)
            self.slave = os.ttyname(slave)
            os.set_blocking(master, False)
            self._point_link()
        except BaseException:
            self.unplug()
            raise
        finally:
            os.close(slave)

    def unplug(self) -> None:
        if self._master is None:
            return
        if self.link is not None and self._is_ours(self.link):
            self.link.unlink(missing_ok=True)
        self._poll.unregister(self._master)
        os.close(self._master)
        self._master = None
        self._forget_pending()

    def readers(self) -> list[int | socket.socket]:
        return [self._master] if self._master is not None and self._listening else []

    def writers(self) -> list[int | socket.socket]:
        return [self._master] if self._master is not None and self._pending else []

    def receive(self) -> bytes:
        if self._master is None:
            return b""
        self._look()
        data = bytearray()
        # EIO: nobody has the slave open. Bytes sent before it was closed come all the same.
        with contextlib.suppress(OSError):
            while chunk := os.read(self._master, 65536):
                data += chunk
        self._write_pending()
        return bytes(data)

    def write(self, data: bytes) -> int:
        if self._master is not None:
            self._look()
        if self._master is None or not self._listening:
            self.lost_bytes += len(data)
            return 0
        taken = data[: PENDING_BYTES - len(self._pending)]
        self.lost_bytes += len(data) - len(taken)
        self._pending += taken
        self._write_pending()
        return len(taken)

    def _look(self) -> None:
        listened, self._listening = self._listening, not self._poll.poll(0)
        if listened and not self._listening:
            self._forget_pending()
            self._take_out_unread()

    def _write_pending(self) -> None:
        try:
            while self._pending and self._master is not None:
                del self._pending[: os.write(self._master, self._pending)]
        except BlockingIOError:
            pass
        except OSError:
            self._forget_pending()

    def _forget_pending(self) -> None:
        self.lost_bytes += len(self._pending)
        self._pending.clear()

    def _take_out_unread(self) -> None:
        # Reading until nothing is left reaches the bytes that the kernel has not yet handed to
        # the terminal as well, which a flush does not; the flush takes what is no whole line
        # for a reader that had put the terminal into line mode.
        with contextlib.suppress(OSError):
            slave = os.open(self.slave, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
            try:
                with contextlib.suppress(BlockingIOError):
                    while chunk := os.read(slave, 65536):
                        self.lost_bytes += len(chunk)
                termios.tcflush(slave, termios.TCIFLUSH)
            finally:
                os.close(slave)

    def _point_link(self) -> None:
        if self.link is None:
            return
        # Renamed into place: a reader finds the old slave or the new one, never nothing.
        fresh = self.link.with_name(f".{self.link.name}.{os.getpid()}")
        fresh.unlink(missing_ok=True)
        fresh.symlink_to(self.slave)
        fresh.replace(self.link)

    def _is_ours(self, link: Path) -> bool:
        return link.is_symlink() and str(link.readlink()) == self.slave
