"""What learn says of the check policy of a bench is what a bench takes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.settings import config_dir
from acquire.settings.bench import load_bench
from tests.unit.learn.test_cli import SHOWN, Captured, shown, tape

TWO = [f"20: {value} GU\r\n60: {value[:-1]}7 GU\r\n".encode() for value in SHOWN]
IN_A_LINE = [f"20 {value} GU 60 9{value[-1]}.5 GU\r\n".encode() for value in SHOWN]
ONE = [f"{value} GU\r\n".encode() for value in SHOWN]


def learned(folder: Path, presses: list[bytes], *words: str) -> None:
    path = str(tape(folder / "t", presses))
    out = folder / "profiles" / "mine.toml"
    assert run(["learn", "--tape", path, *shown(*SHOWN), *words, "--out", str(out)]) == 0


@pytest.mark.parametrize(
    ("presses", "words", "copied", "changed"),
    [
        (TWO, (), "gloss-20-60-85", "geometry = [20, 60]"),
        (IN_A_LINE, (), "gloss-20-60-85", "geometry = [20, 60]"),
        (ONE, ("--geometry", "85"), "gloss-60", "geometry = 85"),
        (ONE, ("--geometry", "60"), "", ""),
    ],
)
def test_a_bench_takes_the_policy_that_is_advised(
    presses: list[bytes], words: tuple[str, ...], copied: str, changed: str,
    tmp_path: Path, capsys: Captured,
) -> None:  # fmt: skip
    learned(tmp_path, presses, *words)
    told = capsys.readouterr().out
    lines = told.partition("(README, Describe the bench):\n")[2].partition("then: ")[0]
    if copied:
        assert f"copy config/policies/{copied}.toml" in lines
        assert f"write {changed} there" in lines
        text = (config_dir() / "policies" / f"{copied}.toml").read_text(encoding="utf-8")
        mine, times = re.subn("(?m)^geometry = .*$", changed, text)
        assert times == 1
        (tmp_path / "policies").mkdir()
        (tmp_path / "policies" / "my-own.toml").write_text(mine, encoding="utf-8")
        lines = lines.replace('policy = "..."', 'policy = "my-own"')
    lines = lines.replace('port = "..."', 'port = "/dev/ttyUSB0"').replace('"..."', '"SN-1"')
    bench = (config_dir() / "boatyard" / "bench.toml").read_text(encoding="utf-8")
    head, _, rest = bench.partition("\n[[instrument]]\n")
    pieces = rest[rest.index("\n[[piece]]\n") :]
    # The scenario's pieces are certified at 20 and 60 degrees.
    if "85" in changed:
        pieces = pieces.replace("geometry = 60", "geometry = 85")
    (tmp_path / "bench.toml").write_text(f"{head}\n{lines}{pieces}", encoding="utf-8")
    (instrument,) = load_bench(tmp_path / "bench.toml").instruments
    assert (instrument.profile_name, instrument.policy is not None) == ("mine", True)
