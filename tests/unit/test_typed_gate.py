"""A typed instrument is checked like any other, and what no cable tells a person says."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.errors import Refused
from tests.unit.hand import METER, HandYard


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[HandYard]:
    yard = HandYard(tmp_path)
    yard.plug()
    yield yard
    yard.close()


def roles(yard: HandYard) -> list[object]:
    return [reading["role"] for reading in yard.readings()]


def test_no_run_starts_before_the_pieces_were_typed_in(yard: HandYard) -> None:
    with pytest.raises(Refused):
        yard.begin()
    yard.check()
    yard.begin()
    yard.twice("80.1")
    assert roles(yard) == ["check"] * 4 + ["run"]


def test_a_first_entry_fills_no_place(yard: HandYard) -> None:
    yard.check()
    yard.begin()
    yard.type("80.1")
    assert roles(yard) == ["check"] * 4


@pytest.mark.parametrize(
    ("word", "reason"), [("adjusted", "re-adjusted"), ("off", "switched off"), ("Off", "switched")]
)
def test_a_word_ends_the_pass_and_readings_count_again_after_a_check(
    yard: HandYard, word: str, reason: str
) -> None:
    yard.check()
    yard.begin()
    yard.type(word)
    yard.twice("80.1")
    (refused,) = yard.readings("role = 'loose'")
    assert "no valid check" in str(refused["loose_reason"])
    assert reason in str(refused["loose_reason"])
    yard.check()
    yard.twice("80.1")
    assert len(yard.readings("counts = 1")) == 1


@pytest.mark.parametrize("word", ["adjusted", "off"])
def test_a_word_in_mid_check_breaks_it_off(yard: HandYard, word: str) -> None:
    yard.act(lambda at: yard.acts.checks.begin(METER, at))
    yard.twice("93.2")
    yard.type(word)
    assert yard.desk.standings[METER].checking is None
    with pytest.raises(Refused):
        yard.begin()


def test_time_ends_the_pass(yard: HandYard) -> None:
    yard.check()
    yard.begin()
    yard.clock.advance(4000)
    yard.twice("80.1")
    assert "no valid check" in str(yard.readings("role = 'loose'")[0]["loose_reason"])


def test_a_pass_does_not_outlive_the_daemon(yard: HandYard) -> None:
    yard.check()
    yard.restart()
    yard.plug()
    with pytest.raises(Refused):
        yard.begin()


def test_the_serial_number_is_the_one_that_the_bench_declares(yard: HandYard) -> None:
    yard.check()
    assert {reading["serial"] for reading in yard.readings()} == {"SH-0417"}
