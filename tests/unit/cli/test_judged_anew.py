"""What hangs on a withdrawn certificate is told, and asked about, before it is judged anew."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.cli import judgedanew, serve
from acquire.cli.entry import run
from acquire.cli.judgedanew import before_start, judged_anew
from acquire.cli.reach import acting
from acquire.errors import Refused
from acquire.model import Certificate
from acquire.store import StoreReader
from acquire.store.kept import Kept
from tests.unit.withdrawing import WHY, certified
from tests.yard import Yard, pieces

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    """Two checks, and two readings under the first."""
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.press("shore", "80.2")
    yard.check("shore")
    yield yard
    yard.close()


def told(yard: Yard, *values: str, withdrawn: str = "93.2") -> list[str]:
    """What is said where the bench file has these certificates of the tile."""
    tile, trap = pieces()
    (first,) = tile.certificates

    def one(value: str) -> Certificate:
        return replace(first, value=Decimal(value), withdrawn=WHY if value in withdrawn else "")

    own = replace(tile, certificates=tuple(map(one, values)))
    with StoreReader(yard.bench.store) as reader:
        on = yard.clock.now().utc().date()
        return list(judged_anew(reader, Kept(reader), [own, trap], on))


def test_checks_and_readings_that_rest_on_it_are_counted_and_the_figure_in_its_place_is_named(
    yard: Yard,
) -> None:
    (line,) = told(yard, "93.2", "23.9")
    assert line.startswith(
        "2 checks and 2 readings taken under them rest on the certificate of T1 at 20° issued "
    )
    assert "judged anew by what stands in its place: 23.9 GU. " in line
    assert line.endswith("stays so whatever is entered later: read the new figures against the "
                         "paper once more")  # fmt: skip


def test_that_nothing_stands_in_its_place_is_told(yard: Yard) -> None:
    (line,) = told(yard, "93.2")
    assert "in its place: nothing, and none of them passes then." in line


def test_what_comes_of_it_is_told_by_no_figure_before_it_is_recorded(yard: Yard) -> None:
    passes, fails = (told(yard, "93.2", value)[0] for value in ("93.3", "23.9"))
    assert passes.replace("93.3", "23.9") == fails


def test_nothing_is_told_where_nothing_was_withdrawn_or_all_is_recorded(yard: Yard) -> None:
    assert told(yard, "93.2", withdrawn="") == []
    certified(yard, "93.2", "93.5", withdrawn=["93.2"])
    assert told(yard, "93.2", "93.5") == []
    assert told(yard, "93.2", "93.5", "93.6", withdrawn="93.2 93.5"), "another one in the place"


def test_a_certificate_that_no_check_rests_on_asks_nothing(tmp_path: Path) -> None:
    yard = Yard(tmp_path)
    assert told(yard, "93.2", "23.9") == []
    yard.close()


def test_no_daemon_starts_without_a_yes_and_nobody_to_ask(
    tmp_path: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "bench.toml"
    file.write_text("", encoding="utf-8")
    monkeypatch.setattr(serve, "before_start", lambda _: ["2 checks rest on it"])
    assert run(["serve", str(file)]) == 1
    caught = capsys.readouterr()
    assert "NOTE: 2 checks rest on it" in caught.out
    assert "no daemon is started, and nothing is judged anew" in caught.err
    assert "--yes" in caught.err


def test_a_bench_file_without_a_withdrawn_certificate_is_not_read_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "bench.toml"
    file.write_text('# withdrawn = "why"\n', encoding="utf-8")
    monkeypatch.setattr(judgedanew, "judged_anew", None)
    assert before_start(file) == []
    assert before_start(tmp_path / "none.toml") == []


def test_no_command_judges_checks_anew_on_its_way_where_no_daemon_runs(
    yard: Yard, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = yard.bench.store.parent / "bench.toml"
    text = f'[bench]\nname = "b"\nstore = "{yard.bench.store.name}"\n'
    file.write_text(text, encoding="utf-8")
    monkeypatch.setattr(judgedanew, "before_start", lambda _: ["2 checks rest on it"])
    with pytest.raises(Refused, match="judged anew on the way"), acting(file):
        pytest.fail("a daemon was started")
