"""The bench that is attacked: a typed meter with a strict policy beside one on a wire."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from acquire.control.client import Client
from acquire.control.door import Door, door_path, read_door
from tests.attack.calls import WIDE
from tests.benchmarks.footprint import write_bench
from tests.flow.served import COATBENCH, Wire
from tests.patience import PATIENCE_S

HAND = """
[[instrument]]
id = "hand"
kind = "gloss"
serial = "HN-0009"
driver = "keyed"
profile = "keyed-once"
policy = "strict"
link = { typed = true }
"""
PROFILE = """about = "gloss meter without a port, read once"
kind = "gloss"
[entry]
unit = "gloss_unit"
low = -1
high = 200
step = 0.1
over = ["OL"]
[geometry]
default = 20
"""
POLICY = """quantity = "gloss"
geometry = 20
unit = "gloss_unit"
resolution = 0.1
valid_for_s = 3600
valid_for_presses = 12
idle_s = 1800
ends_with_sitting = true
range = [-1, 120]
linearity_limit = 1.5
[ambient]
temperature_c = [15, 30]
temperature_change_c = 5
known_for_s = 3600
[[step]]
piece = "T1"
readings = 2
limit = 1.0
spread_limit = 0.5
[[step]]
piece = "T2"
readings = 2
limit = 1.0
spread_limit = 0.5
[[step]]
piece = "Z0"
readings = 2
limit = 0.3
spread_limit = 0.2
"""
GOOD = ("91.4", "91.4", "52.6", "52.6", "0.0", "0.0")


class Bench:
    """A bench in a folder, its files and its daemon. The daemon may be killed; `end` ends all."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.folder = folder
        self.wire = Wire(folder)
        self.file = write_bench(folder, [str(self.wire.port)])
        text = self.file.read_text("utf-8")
        kept = 'issuer = "Invented calibration laboratory"\n'
        # The first certificate is that of T1 at 20 degrees.
        text = text.replace(kept, f'{kept}file = "t1.txt"\n', 1)
        self.file.write_text(text + HAND, "utf-8")
        for name, content in (
            ("profiles/keyed-once.toml", PROFILE),
            ("policies/strict.toml", POLICY),
            ("t1.txt", "Tile T1: 91.4 GU at 20 degrees\n"),
            ("trial.toml", WIDE),
        ):
            path = folder / name
            path.parent.mkdir(exist_ok=True)
            path.write_text(content, "utf-8")
        self.store = folder / "idle.sqlite"
        self.policy = folder / "policies/strict.toml"
        self.process: subprocess.Popen[str] | None = None

    def start(self) -> str:
        """Start the daemon; gives what it says where it does not serve, else nothing.

        Where it asks before checks are judged anew, the answer is yes.
        """
        said = self._start()
        return self._start("--yes") if "the same command with --yes" in said else said

    def _start(self, *options: str) -> str:
        self.process = subprocess.Popen(
            [COATBENCH, "--bench", str(self.file), "serve", *options],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        assert self.process.stdout is not None
        first = self.process.stdout.readline()
        while options and first.startswith("NOTE: "):
            first = self.process.stdout.readline()
        if "serving" in first:
            self._await_hand()
            return ""
        return first + self.ended()[1]

    def _await_hand(self) -> None:
        with self.client() as client, client.watch() as items:
            while not all(one["connected"] for one in client.call("status")["instruments"]):
                next(items)

    def client(self) -> Client:
        return Client.of_store(self.store)

    @property
    def door(self) -> Door:
        return read_door(door_path(self.store))

    @property
    def runs(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def ended(self) -> tuple[int, str]:
        """Wait for the daemon's end, and end one that stays: its status and what it still said."""
        assert self.process is not None
        assert self.process.stdout is not None
        try:
            # It says little, and never waits for a reader.
            code = self.process.wait(PATIENCE_S)
        except subprocess.TimeoutExpired:
            self.process.kill()
            code = self.process.wait(PATIENCE_S)
        said = "" if self.process.stdout.closed else self.process.stdout.read()
        self.process.stdout.close()
        return code, said

    def stop(self) -> tuple[int, str]:
        assert self.process is not None
        if self.process.poll() is None:
            self.process.terminate()
        return self.ended()

    def kill(self) -> None:
        """SIGKILL: nothing is said, nothing is flushed."""
        assert self.process is not None
        self.process.kill()
        self.ended()

    def end(self) -> None:
        if self.process is not None:
            self.stop()
        self.wire.close()


def staying(bench: Bench, *line: str) -> subprocess.Popen[str]:
    """A command that may wait for presses, as a process with nobody at its keys."""
    return subprocess.Popen(
        [sys.executable, "-m", "acquire.cli", "--bench", str(bench.file), *line],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        cwd=bench.folder,
    )
