"""The command line as a person or a program has it: on a pseudo-terminal, or through a pipe."""

from __future__ import annotations

import contextlib
import io
import itertools
import os
import re
import select
import signal
import subprocess
import sys
import termios
import time
from pathlib import Path
from types import TracebackType

from acquire.cli.entry import run
from tests.flow.served import COATBENCH, Served
from tests.patience import PATIENCE_S
from tests.yard import TRIAL

# Control sequences (ECMA-48, 5.4), and the two-character escapes.
_SEQUENCE = re.compile(r"\x1b(?:\[[0-?]*[ -/]*[@-~]|[@-Z\\-_])")

# Makes the terminal the controlling one, so that Ctrl-C, typed, interrupts the command.
_CONTROLLED = (
    "import fcntl, os, sys, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0); "
    "os.execv(sys.argv[1], sys.argv[1:])"
)


def await_meter(served: Served) -> None:
    """Wait until the daemon has found its meter, which is a little after it has begun to serve."""
    with served.client() as client, client.watch() as items:
        while not client.call("status")["instruments"][0]["connected"]:
            next(items)


_trials = itertools.count(1)


def new_trial(served: Served) -> str:
    """A trial of its own, with nothing measured yet, as ``trial.toml`` beside the bench; its id."""
    trial = f"gelcoat-{next(_trials)}"
    text = TRIAL.replace('id = "gelcoat"', f'id = "{trial}"', 1)
    (served.folder / "trial.toml").write_text(text)
    return trial


def make_ready(served: Served, *, checked: bool) -> None:
    """Nothing open from before, the meter plugged in, and checked if so wanted."""
    new_trial(served)
    await_meter(served)
    with served.client() as client:
        status = client.call("status")
        (meter,) = status["instruments"]
        if meter["checking"] is not None:
            client.call("abandon_check", instrument="meter-0")
        if status["run"] is not None or status["interrupted"] is not None:
            client.call("finish_run")
        is_valid = client.call("status")["instruments"][0]["check"]["valid"]
    if checked and not is_valid:
        served.check()


def do(served: Served, *arguments: str) -> tuple[int, str, str]:
    """One command, to its end: exit status, what it told, and what it told of errors.

    In this process, for half of what a process takes is its start; those on a terminal or a pipe
    are whole ones.
    """
    with (
        contextlib.redirect_stdout(io.StringIO()) as out,
        contextlib.redirect_stderr(io.StringIO()) as err,
    ):
        status = run(["--bench", str(served.bench_file), *arguments])
    return status, out.getvalue(), err.getvalue()


def environment(**more: str) -> dict[str, str]:
    """Of this process, without what would change how a screen looks."""
    kept = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLUMNS", "LINES")}
    return {**kept, "TERM": "xterm-256color", "TZ": "UTC", "PYTHONIOENCODING": "utf-8", **more}


class OnTerminal:
    """A command on a terminal of its own; a context manager that leaves no process behind."""

    def __init__(self, bench_file: Path, *arguments: str, columns: int = 80, **env: str) -> None:
        self.near, self._far = os.openpty()
        termios.tcsetwinsize(self._far, (24, columns))
        self.before = termios.tcgetattr(self._far)
        self.raw = ""
        self._seen = 0
        self.process = subprocess.Popen(
            [sys.executable, "-c", _CONTROLLED, COATBENCH, "--bench", str(bench_file), *arguments],
            stdin=self._far,
            stdout=self._far,
            stderr=self._far,
            env=environment(**env),
            start_new_session=True,
        )

    def press_keys(self, keys: str) -> None:
        os.write(self.near, keys.encode())

    def resize(self, rows: int, columns: int) -> None:
        termios.tcsetwinsize(self._far, (rows, columns))
        self.process.send_signal(signal.SIGWINCH)

    def expect(self, text: str) -> str:
        """Read until `text` is shown after what was expected last; gives what was shown."""
        until = time.monotonic() + PATIENCE_S
        while True:
            shown = _SEQUENCE.sub("", self.raw[self._seen :])
            if text in shown:
                self._seen = len(self.raw)
                return shown
            if not self._read(until - time.monotonic()):
                raise AssertionError(f"{text!r} was not shown, but:\n{shown[-4000:]}")

    def end(self) -> int:
        """Read to the end; the exit status. The terminal must be as it was."""
        until = time.monotonic() + PATIENCE_S
        while self.process.poll() is None and self._read(min(0.1, until - time.monotonic()), True):
            pass
        status = self.process.wait(max(0.0, until - time.monotonic()))
        while self._read(0):
            pass
        assert termios.tcgetattr(self._far) == self.before
        assert self.raw.count("\x1b[?1049h") == self.raw.count("\x1b[?1049l")
        assert self.raw.count("\x1b[?25l") <= self.raw.count("\x1b[?25h")
        return status

    @property
    def rest(self) -> str:
        """What was shown since the last thing that was expected."""
        return _SEQUENCE.sub("", self.raw[self._seen :])

    def _read(self, timeout_s: float, idle_is_fine: bool = False) -> bool:
        if timeout_s < 0:
            return False
        ready, _, _ = select.select([self.near], [], [], timeout_s)
        if not ready:
            return idle_is_fine
        self.raw += os.read(self.near, 65536).decode("utf-8", "replace")
        return True

    def __enter__(self) -> OnTerminal:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self.near)
        os.close(self._far)


class Piped:
    """A command whose output a program reads line by line."""

    def __init__(self, bench_file: Path, *arguments: str) -> None:
        self.process = subprocess.Popen(
            [COATBENCH, "--bench", str(bench_file), *arguments],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environment(),
        )
        self.lines: list[str] = []

    def line(self) -> str:
        """The next line; empty at the end."""
        assert self.process.stdout is not None
        text = self.process.stdout.readline()
        self.lines.append(text.rstrip("\n"))
        return text

    def expect(self, text: str) -> str:
        """The next line with `text` in it."""
        while found := self.line():
            if text in found:
                return found
        raise AssertionError(f"{text!r} was not told, but: {self.lines} {self.end()}")

    def end(self) -> tuple[int, str, str]:
        """Exit status, what else was told, and what was told of errors."""
        assert self.process.stdout is not None
        assert self.process.stderr is not None
        out, err = self.process.stdout.read(), self.process.stderr.read()
        return self.process.wait(PATIENCE_S), out, err

    def __enter__(self) -> Piped:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        tb: TracebackType | None,
    ) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.communicate()
