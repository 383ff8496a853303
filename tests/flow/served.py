"""A real daemon in a process of its own, with one meter whose wire the test holds in its hand."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tty
from pathlib import Path
from types import TracebackType
from typing import Any

from acquire.control.client import Client
from acquire.control.door import door_path
from acquire.settings import config_dir
from tests.benchmarks.footprint import write_bench
from tests.benchmarks.lines import WHO, Teller, name_line, press_line
from tests.patience import PATIENCE_S

COATBENCH = str(Path(sys.executable).with_name("coatbench"))
# What the pieces of `write_bench` read, thrice each: high tile, second tile, trap.
GOOD_CHECK = ("91.4",) * 3 + ("52.6",) * 3 + ("0.0",) * 3


class Wire:
    """The device's side of a pseudo-terminal, with a steady name that survives replugging.

    It answers when it is asked who it is.
    """

    def __init__(
        self,
        folder: Path,
        name: str = "meter-0",
        answer: bytes = name_line("SN-0"),
        question: bytes = WHO,
    ) -> None:
        self.port = folder / name
        self.count = 0
        self._teller = Teller(answer, question)
        self.plug()

    def plug(self) -> None:
        self._master, self._slave = os.openpty()
        tty.setraw(self._master)
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.port.unlink(missing_ok=True)
        self.port.symlink_to(os.ttyname(self._slave))
        self._teller.listen(self._master)

    def unplug(self) -> None:
        self.port.unlink(missing_ok=True)
        self._teller.listen(None)
        os.close(self._slave)
        os.close(self._master)

    def close(self) -> None:
        """The last call."""
        self.unplug()
        self._teller.close()

    def send(self, data: bytes) -> bool:
        """Send; False if nobody reads and the line is full, as on a cable without handshake."""
        try:
            return os.write(self._master, data) == len(data)
        except BlockingIOError:
            return False

    def press(self, value: str) -> None:
        self.count += 1
        self.send(press_line(self.count, value))


class Served:
    """``coatbench serve`` as a process. Use as a context manager; `restart` after a kill."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.wire = Wire(folder)
        self.bench_file = write_bench(folder, [str(self.wire.port)])
        _without_echoes(folder)
        self.store = folder / "idle.sqlite"
        self.said = ""
        self.start()

    def start(self) -> None:
        self.process = subprocess.Popen(
            [COATBENCH, "--bench", str(self.bench_file), "serve"],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert self.process.stdout is not None
        self.said = self.process.stdout.readline()
        assert "serving" in self.said, self.said + self.process.stdout.read()

    def client(self) -> Client:
        return Client.of_store(self.store)

    def kill(self) -> None:
        """SIGKILL: nothing is said, nothing is flushed."""
        self.process.kill()
        self.process.communicate(timeout=PATIENCE_S)

    def stop(self, kind: int = signal.SIGTERM) -> str:
        """End in order; what the daemon still said."""
        if self.process.poll() is None:
            self.process.send_signal(kind)
        rest, _ = self.process.communicate(timeout=PATIENCE_S)
        return rest

    def check(self) -> None:
        """Press through a good check."""
        with self.client() as client, client.watch() as items:
            self.await_meter(client, items)
            client.call("begin_check", instrument="meter-0")
            for value in GOOD_CHECK:
                role = ""
                while role != "check":
                    self.wire.press(value)
                    role = self.next_reading(items)["role"]

    @staticmethod
    def await_meter(client: Client, items: Any) -> None:
        """Wait until the daemon has found the meter; `items` are of a watch of the same daemon."""
        while not client.call("status")["instruments"][0]["connected"]:
            next(items)

    @staticmethod
    def next_reading(items: Any) -> dict[str, Any]:
        for item in items:
            if item.get("table") == "reading":
                assert isinstance(item, dict)
                return item
        raise AssertionError("the daemon hung up before a reading came")

    @property
    def door(self) -> Path:
        return door_path(self.store)

    def __enter__(self) -> Served:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        self.stop()
        self.wire.close()


def _without_echoes(folder: Path) -> None:
    """A profile of the meter's own, by which its first press counts.

    By the one that ships, all that comes within a second of connecting passes for an echo: pressing
    on until a press counts kept two processes busy for as long, and filled the store.
    """
    shipped = (config_dir() / "profiles" / "gloss-press.toml").read_text(encoding="utf-8")
    own = shipped.replace("echo_window_s = 1.0", "echo_window_s = 0.0")
    assert own != shipped
    (folder / "profiles").mkdir()
    (folder / "profiles" / "gloss-press.toml").write_text(own, encoding="utf-8")
