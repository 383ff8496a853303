"""A scenario is held to the rules of the bench that is written from it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from pydantic import TypeAdapter, ValidationError

from acquire.errors import Misuse, SettingsError
from acquire.schema.text import Name
from acquire.settings import load_bench, load_plan
from acquire.testkit.bench_file import BenchFiles
from acquire.testkit.maker import Maker
from simulators.names import LONGEST_NAME, is_name
from simulators.scenario_file import read_scenario
from simulators.wires import BESIDE, WIRES

SCENARIO = """
[[zone]]
name = "A1"
gloss = { 20 = 80.0, 60 = 85.0, 85 = 95.0 }
[[zone]]
name = "A2"
treatment = "Tern sealant"
gloss = { 20 = 80.0, 60 = 85.0, 85 = 95.0 }
[[piece]]
name = "T1"
gloss = { 20 = 91.4, 60 = 95.2, 85 = 97.0 }
[[piece]]
name = "W"
mass_g = 200
[[piece]]
name = "F"
percent = 50
"""
SIGNS = [*range(0x3000), *range(0xD7F0, 0xE010), *range(0xFE00, 0x10000), 0x1F6E5, 0xE0001]


def device(wire: str) -> str:
    return f'[[device]]\nname = "it"\nwire = "{wire}"\nserial = "SN-7"\n'


def written(text: str, folder: Path) -> list[Path]:
    links = {"it": '{ port = "/dev/it" }'}
    files = BenchFiles(read_scenario(text, "it.toml"), links, date(2026, 5, 4))
    return files.write(folder / "bench.toml")


BENCH_NAME: TypeAdapter[str] = TypeAdapter(Name)


def bench_takes(name: str) -> bool:
    try:
        BENCH_NAME.validate_python(name)
    except ValidationError:
        return False
    return True


def test_a_scenario_takes_the_names_that_a_bench_takes() -> None:
    edges = ["", "  ", "a", " a ", "a" * LONGEST_NAME, "a" * (LONGEST_NAME + 1)]
    for name in [*edges, *(f"a{chr(code)}" for code in SIGNS)]:
        assert is_name(name) is bench_takes(name), ascii(name)


MEASURING = [name for name, wire in WIRES.items() if wire.measures not in BESIDE]


@pytest.mark.parametrize("wire", [name for name in WIRES if name not in MEASURING])
def test_what_measures_no_surface_is_written_without_a_policy(wire: str, tmp_path: Path) -> None:
    (bench,) = written(SCENARIO + device(wire), tmp_path)
    found = load_bench(bench)
    assert ([one.id for one in found.probes], found.instruments) == (["it"], ())


@pytest.mark.parametrize("wire", MEASURING)
def test_what_is_written_of_one_device_is_read_whatever_else_lies_there(
    wire: str, tmp_path: Path
) -> None:
    bench, *_, trial = written(SCENARIO + device(wire), tmp_path)
    assert [one.id for one in load_bench(bench).instruments] == ["it"]
    assert load_plan(trial).zones


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (device("gloss-press"), r"it could not be checked: got no \[\[piece\]\] for gloss"),
        (
            SCENARIO.replace("91.4", "1e-30") + device("gloss-press"),
            r"it would be refused: got piece\[0\].certificate\[0\].value: 1E-30",
        ),
    ],
)
def test_a_bench_that_would_be_refused_is_not_written(
    text: str, words: str, tmp_path: Path
) -> None:
    with pytest.raises(Misuse, match=words):
        written(text, tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("value", ["9" * 5001, "[" * 3000, "1\na" + ".a" * 100_000 + " = 1"])
def test_the_fixture_tells_a_hostile_text_as_a_fault_of_the_scenario(
    value: str, tmp_path: Path
) -> None:
    with pytest.raises(SettingsError) as raised:
        Maker(tmp_path, tmp_path).scenario(f"[scenario]\nseed = {value}")
    assert len(raised.value.faults) == 1
