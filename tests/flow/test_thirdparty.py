"""The example of a driver package is built, installed and used, as somebody else would do it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import NamedTuple

import pytest

from acquire.control.client import Client
from tests.flow.served import COATBENCH, Wire
from tests.patience import PATIENCE_S

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="the gauge needs a terminal")

EXAMPLE = Path(__file__).parents[1] / "thirdparty" / "coatbench_driver_plumb"

BENCH = """
[bench]
name = "plumb"
store = "plumb.sqlite"

[[instrument]]
id = "plumb"
kind = "force"
serial = "PL-0044"
driver = "plumb"
profile = "plumb-peak"
policy = "force"
link = {{ port = "{port}" }}
"""
PIECE = """
[[piece]]
id = "{id}"
kind = "{kind}"
[[piece.certificate]]
quantity = "force"
value = {value}
unit = "gram_force"
expanded_uncertainty = 0.5
coverage_factor = 2
issued = 2025-01-31
due = 2099-01-31
issuer = "Invented calibration laboratory"
"""


class Installed(NamedTuple):
    """The package installed, and a copy of its source beside."""

    source: Path
    environment: dict[str, str]

    def run(self, *command: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            command, cwd=self.source, env=self.environment, capture_output=True, text=True,
            check=False,
        )  # fmt: skip


@pytest.fixture(scope="module")
def plumb(tmp_path_factory: pytest.TempPathFactory) -> Installed:
    """Built by its own build backend and installed by pip, without a network."""
    folder = tmp_path_factory.mktemp("plumb")
    source, target = folder / "source", folder / "installed"
    shutil.copytree(EXAMPLE, source, ignore=shutil.ignore_patterns("__pycache__"))
    found = subprocess.run(
        [sys.executable, "-m", "pip", "--disable-pip-version-check", "install", "--no-index",
         "--no-deps", "--no-build-isolation", "--target", str(target), str(source)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert found.returncode == 0, found.stdout + found.stderr
    # What runs is what was installed, and not the source that lies around.
    shutil.rmtree(source / "coatbench_driver_plumb")
    return Installed(source, {**os.environ, "PYTHONPATH": str(target)})


def test_the_list_of_drivers_names_the_package_that_brings_it(plumb: Installed) -> None:
    found = plumb.run(COATBENCH, "driver", "list")
    row = next(line for line in found.stdout.splitlines() if line.startswith("plumb"))
    assert row.split("\t") == ["plumb", "package coatbench-driver-plumb", "serial", "fits"]
    profile = next(x for x in found.stdout.splitlines() if x.startswith("plumb-peak"))
    _, origin, _, state = profile.split("\t")
    assert (origin, state) == ("package coatbench-driver-plumb", "can be named")


def test_the_command_finds_its_profile_and_sees_every_rule_kept(plumb: Installed) -> None:
    found = plumb.run(
        COATBENCH, "driver", "test", "plumb", "--captures", "captures", "--bytes", "500"
    )
    assert found.returncode == 0, found.stdout + found.stderr
    assert "tried   with plumb-peak (2 captures)" in found.stdout
    assert "all rules were tried and held" in found.stdout


def test_its_own_test_is_one_line_and_says_what_is_wrong(plumb: Installed) -> None:
    wrong = plumb.source / "wrong" / "plumb-peak"
    wrong.mkdir(parents=True)
    text = (plumb.source / "captures" / "plumb-peak" / "start.toml").read_text("utf-8")
    (wrong / "start.toml").write_text(text.replace('value = "1.250"', 'value = "1.260"'), "utf-8")
    (plumb.source / "tests" / "test_wrong.py").write_text(
        "def test_wrong(keeps_every_rule):\n"
        "    keeps_every_rule('plumb', captures='wrong', spoilt_bytes=1)\n"
    )
    found = plumb.run(sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider")
    assert "1 failed, 1 passed" in found.stdout, found.stdout + found.stderr
    assert "BROKEN     captures mean what they say" in found.stdout
    assert "plumb-peak: start: fed whole: fact 1: got" in found.stdout
    assert "Traceback" not in found.stdout


def test_the_plug_in_imports_nothing_of_coatbench_before_it_is_used(plumb: Installed) -> None:
    found = plumb.run(
        sys.executable, "-c",
        "import sys, acquire.testkit.drivers\n"
        "print(*[m for m in sys.modules if m.startswith('acquire')])",
    )  # fmt: skip
    assert found.stdout.split() == ["acquire", "acquire.testkit", "acquire.testkit.drivers"]


def message(body: str) -> bytes:
    """A message by WIRE.md, section by section, without the codec."""
    checked = f"{body};".encode()
    return b"[%s%02d]" % (checked, sum(checked) % 97)


def test_a_bench_reads_through_it(plumb: Installed, tmp_path: Path) -> None:
    wire = Wire(tmp_path, "gauge", message("S;PL-0044"), b"[S?]")
    text = BENCH.format(port=wire.port)
    for piece, kind, value in (
        ("W0", "no-load", 0), ("W200", "check-weight", 200), ("W500", "check-weight", 500),
    ):  # fmt: skip
        text += PIECE.format(id=piece, kind=kind, value=value)
    bench = tmp_path / "bench.toml"
    bench.write_text(text, "utf-8")
    process = subprocess.Popen(
        [COATBENCH, "--bench", str(bench), "serve"],
        env=plumb.environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )  # fmt: skip
    try:
        assert process.stdout is not None
        said = process.stdout.readline()
        assert "serving" in said, said + process.stdout.read()
        reading = first_fresh_reading(tmp_path / "plumb.sqlite", wire)
    finally:
        process.terminate()
        process.communicate(timeout=PATIENCE_S)
        wire.close()
    assert reading["text"] == "+1.250"
    assert reading["unit"] == "newton"
    assert float(reading["value"]) == 1.25


def first_fresh_reading(store: Path, wire: Wire) -> dict[str, str]:
    """Press until a reading comes that is no echo of the connecting."""
    with Client.of_store(store) as client, client.watch() as items:
        while not client.call("status")["instruments"][0]["connected"]:
            next(items)
        for count in range(1, 1000):
            wire.send(message(f"P;{count};+1.250;n"))
            for item in items:
                if item.get("table") == "reading":
                    break
            if "echo" not in str(item.get("flags", "")):
                return dict(item)
    raise AssertionError("no reading came that was no echo")
