"""A meter that nobody documented: from the plug to readings that count, by what a person types.

The meter is a pseudo-terminal on which a hand presses. It is listed, learned from three presses,
checked against pieces by what was learned, and fills its places in a run; each reading is proved.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tty
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from acquire.control.client import Client
from acquire.daemon import running_daemon
from acquire.report.proof import prove
from acquire.settings import load_bench
from acquire.store import StoreReader
from tests.flow.test_wires import BENCH, CERTIFICATE, PIECE, TRIAL

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]

WITHIN_S = 60
LEARNED = (91.4, 45.2, 12.0)
PIECES = {"T1": ("gloss-tile", 91.4), "T2": ("gloss-tile", 52.6), "Z0": ("black-trap", 0.0)}
ZONES = {"A1": (80.1, 80.3), "A2": (84.9, 84.7)}


class Meter:
    """Sends a line of its own form at each press."""

    def __init__(self) -> None:
        self._end, self._port = os.openpty()
        for end in (self._end, self._port):
            tty.setraw(end)
        self.port = os.ttyname(self._port)
        self._presses = count(1)

    def press(self, shown: float) -> None:
        os.write(self._end, b"#%03d 20 %5.1f GU\r\n" % (next(self._presses), shown))

    def close(self) -> None:
        os.close(self._end)
        os.close(self._port)


@pytest.fixture
def meter() -> Iterator[Meter]:
    meter = Meter()
    yield meter
    meter.close()


def coatbench(*arguments: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "acquire.cli", *arguments],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )


def said(*arguments: str) -> str:
    told, _ = coatbench(*arguments).communicate(timeout=WITHIN_S)
    return told


def test_from_the_plug_to_readings_that_count(meter: Meter, tmp_path: Path) -> None:
    (tmp_path / "profiles").mkdir()
    learned = tmp_path / "profiles" / "mine.toml"
    words = [word for value in LEARNED for word in ("--shown", f"{value:.1f}")]
    lesson = coatbench(
        "learn", meter.port, *words, "--unit", "GU", "--geometry", "20", "--out", str(learned)
    )
    told = ""
    values = iter(LEARNED)
    with lesson, lesson.stdout as stdout:  # type: ignore[union-attr]
        for line in stdout:
            told += line
            if "press the button now" in line:
                meter.press(next(values))
    assert lesson.wait(WITHIN_S) == 0, told

    file = tmp_path / "bench.toml"
    text = BENCH.format(
        link=f'{{ port = "{meter.port}" }}', quantity="gloss", serial="UNKNOWN-1", driver="line",
        profile="mine", policy="gloss-20",
    )  # fmt: skip
    for piece, (kind, value) in PIECES.items():
        text += PIECE.format(id=piece, kind=kind)
        text += CERTIFICATE.format(
            quantity="gloss", channel="geometry = 20", value=value, unit="gloss_unit"
        )
    file.write_text(text, "utf-8")
    listed = said("devices", "--bench", str(file))
    assert meter.port in listed
    assert "UNKNOWN-1" in listed or "it" in listed.split()

    bench = load_bench(file)
    with (
        running_daemon(bench),
        Client.of_store(bench.store) as client,
        client.watch() as items,
    ):
        while not client.call("status")["instruments"][0]["connected"]:
            next(items)

        def read(shown: float) -> str:
            meter.press(shown)
            row = next(item for item in items if item.get("table") == "reading")
            assert row["value"] == f"{shown:.1f}"
            return str(row["role"])

        client.call("begin_check", instrument="it")
        for _, value in PIECES.values():
            # What comes right after the opening may be an old value that a meter sends by itself.
            taken = 0
            while taken < 3:
                taken += read(value) == "check"
        assert client.call("status")["instruments"][0]["check"]["valid"] is True
        trial = TRIAL.format(quantity="gloss", channel="geometry = 20")
        client.call("begin_run", text=trial, source="trial.toml", stage="bare", instrument="it")
        assert [read(value) for shown in ZONES.values() for value in shown] == ["run"] * 4
        # The last press as well, though nothing came behind it and the connection goes on.
        latest = client.call("status")["instruments"][0]["last"]["reading_id"]
        assert prove(bench.store, latest).holds
    with StoreReader(bench.store) as reader:
        rows = reader.rows("SELECT * FROM readings WHERE role = 'run' ORDER BY reading_id")
    assert [(row["zone"], float(row["value"])) for row in rows] == [
        (zone, value) for zone, shown in ZONES.items() for value in shown
    ]
    proofs = [prove(bench.store, row["reading_id"]) for row in rows]
    assert [proof.lines for proof in proofs if not proof.holds] == []
