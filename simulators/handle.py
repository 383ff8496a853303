"""Starting a simulated device as a process of its own, and holding it in hand.

The process ends with its handle: at `close`, and by itself when this program dies, because its
standard input ends then. One thread uses a handle; a second one, which the handle owns and
`close` joins, reads the answers.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import sys
import tempfile
import threading
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Any

READY_S = 60.0
ANSWER_S = 30.0
QUIT_S = 10.0


class DeviceFault(Exception):
    """A device refused an act; its words."""


class DeviceGone(Exception):
    """The process of a device has ended or does not answer."""


class DeviceProcess:
    """A running device: ``DeviceProcess("gloss", layout="press", serial="SH-0417", seed=1)``.

    Keywords are the options of ``python -m simulators.<kind>``: `latency_s` is ``--latency-s``,
    True is the bare option, None and False leave it out, a list gives several values. Raises
    DeviceGone when it does not come up; nothing is left running then.
    """

    def __init__(self, kind: str, /, *, ready_s: float = READY_S, **options: object) -> None:
        self._name = f"{kind} {options.get('serial', '')}".strip()
        # Closed by `close`: it is wanted for as long as the process lives.
        self._complaints = tempfile.TemporaryFile()  # noqa: SIM115
        self._answers: queue.SimpleQueue[bytes | None] = queue.SimpleQueue()
        self._closed = False
        self._options = options
        try:
            self._process = subprocess.Popen(  # noqa: S603 - our own module
                [sys.executable, "-m", f"simulators.{kind}", *_arguments(options)],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=self._complaints,
                bufsize=0,
                env=_environment(),
                # An interrupt at the keyboard is for the program that holds the device.
                start_new_session=True,
            )
        except BaseException:
            self._complaints.close()
            raise
        self._reader = threading.Thread(target=self._read, name=f"{self._name} answers")
        self._reader.start()
        try:
            self.ready = self._next(ready_s)
        except BaseException:
            self.close()
            raise

    @property
    def ended(self) -> int | None:
        """The status with which the process has ended; None while it runs."""
        return self._process.poll()

    def await_end(self) -> int:
        """The status of the process, once it has ended by itself."""
        return self._process.wait()

    @property
    def pid(self) -> int:
        """Of the process."""
        return self._process.pid

    @property
    def serial(self) -> str:
        """The serial number it was started with."""
        return str(self.ready["serial"])

    @property
    def port(self) -> str:
        """What to open: the path of a serial port, or the URL of a network one."""
        return str(self.ready.get("path") or self.ready["url"])

    def act(
        self, act: str, /, *, timeout_s: float = ANSWER_S, **arguments: object
    ) -> dict[str, Any]:
        """Do an act and return its answer.

        Raises DeviceFault when the device refuses it, DeviceGone when there is no answer in
        time; the process is ended then, because later answers would be taken for earlier ones.
        """
        self.begin(act, **arguments)
        return self.answer(timeout_s)

    def begin(self, act: str, /, **arguments: object) -> None:
        """Have an act begun; `answer` has to follow. Raises DeviceGone."""
        if self._closed:
            raise DeviceGone(f"{self._name}: {act}: got a closed handle, wanted an open one")
        try:
            self._write({"act": act, **arguments})
        except BaseException:
            self.close()
            raise

    def answer(self, timeout_s: float = ANSWER_S) -> dict[str, Any]:
        """What came of the act that was begun; raises as `act` does."""
        try:
            answer = self._next(timeout_s)
        except BaseException:
            self.close()
            raise
        if "error" in answer:
            raise DeviceFault(f"{self._name}: {answer['error']}")
        return answer

    def close(self) -> None:
        """End the process, kindly if it listens, and let go of everything. May be repeated."""
        if self._closed:
            return
        self._closed = True
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        with contextlib.suppress(OSError):
            self._process.stdin.close()
        try:
            self._process.wait(QUIT_S)
        except subprocess.TimeoutExpired:
            # It had its chance to close its port. What does not listen by now will not.
            self._process.kill()
            self._process.wait()
        self._reader.join()
        self._process.stdout.close()
        self._complaints.close()
        self._remove_link()

    def _remove_link(self) -> None:
        """A process that was killed leaves its link, to a terminal that others may get."""
        link = self._options.get("link")
        device = getattr(self, "ready", {}).get("device")
        if isinstance(link, Path) and device is not None:
            with contextlib.suppress(OSError):
                if link.is_symlink() and (not link.exists() or os.readlink(link) == device):
                    link.unlink()

    def __enter__(self) -> DeviceProcess:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _write(self, item: Mapping[str, object]) -> None:
        assert self._process.stdin is not None
        data = memoryview(json.dumps(item).encode() + b"\n")
        try:
            while data:
                data = data[self._process.stdin.write(data) or 0 :]
        except OSError:
            raise self._gone("its input is closed") from None

    def _next(self, timeout_s: float) -> dict[str, Any]:
        try:
            line = self._answers.get(timeout=timeout_s)
        except queue.Empty:
            self._process.kill()
            raise self._gone(f"no answer within {timeout_s:g} s") from None
        if line is None:
            raise self._gone("it has ended")
        answer = json.loads(line)
        if not isinstance(answer, dict):
            raise self._gone(f"got {line!r}, wanted a JSON object")
        return answer

    def _gone(self, got: str) -> DeviceGone:
        with contextlib.suppress(subprocess.TimeoutExpired):
            # What it complains of on its way out is wanted as well.
            self._process.wait(QUIT_S if got == "it has ended" else 0)
        self._complaints.seek(0)
        words = self._complaints.read().decode(errors="replace").strip().splitlines()
        return DeviceGone(f"{self._name}: {got}" + (f": {words[-1]}" if words else ""))

    def _read(self) -> None:
        assert self._process.stdout is not None
        rest = b""
        with contextlib.suppress(OSError):
            while data := self._process.stdout.read(65536):
                *lines, rest = (rest + data).split(b"\n")
                for line in lines:
                    self._answers.put(line)
        self._answers.put(None)


def _arguments(options: Mapping[str, object]) -> list[str]:
    words: list[str] = []
    for name, value in options.items():
        if value is None or value is False:
            continue
        words.append("--" + name.replace("_", "-"))
        if isinstance(value, list | tuple):
            words += [str(item) for item in value]
        elif value is not True:
            words.append(str(value))
    return words


def _environment() -> dict[str, str]:
    # The child finds this very package, wherever it was started from.
    root = str(Path(__file__).resolve().parent.parent)
    before = os.environ.get("PYTHONPATH")
    return {**os.environ, "PYTHONPATH": os.pathsep.join([root, before] if before else [root])}
