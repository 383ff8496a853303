"""Whoever presses in vain is told so: a meter whose messages are all noise."""

from __future__ import annotations

from acquire.cli.status import status_lines
from acquire.control.shapes import row_item
from acquire.live.bulletin import Bulletin
from acquire.model import Noise
from acquire.pipeline.status import status
from acquire.pipeline.unread import LEAST
from acquire.store import rows as r
from tests.yard import Yard

TOLD = f"the last {LEAST} messages of shore were noise"


def noise(yard: Yard, times: int, apart_s: float = 3.0) -> list[r.IncidentRow]:
    told: list[r.IncidentRow] = []
    for _ in range(times):
        yard.clock.advance(apart_s)
        rows = yard.take_in("shore", Noise(yard.clock.now(), b"33.3 GU 14:43", 0, 13, "no line"))
        told += [row for row in rows if isinstance(row, r.IncidentRow)]
    return told


def shown(yard: Yard) -> str:
    return "\n".join(status_lines(status(yard.desk, yard.clock.now())))


def test_presses_in_a_row_that_are_all_noise_are_told_once_and_stand_in_the_status(
    yard: Yard,
) -> None:
    assert not noise(yard, LEAST - 1)
    assert "  noise " not in shown(yard)
    (told,) = noise(yard, 1)
    assert TOLD in told.message
    assert "more presses" in told.message
    assert TOLD in shown(yard)
    assert not noise(yard, 3)
    assert f"the last {LEAST + 3} messages of shore were noise" in shown(yard)


def test_the_terminal_of_serve_says_it(yard: Yard) -> None:
    (told,) = noise(yard, LEAST)
    assert TOLD in "".join(Bulletin().fold(row_item(told)))


def test_a_reading_between_begins_the_count_anew(yard: Yard) -> None:
    noise(yard, LEAST)
    yard.press("shore", "80.1")
    assert "  noise " not in shown(yard)
    assert not noise(yard, LEAST - 1)
    assert len(noise(yard, 1)) == 1


def test_noise_of_one_moment_is_one_message(yard: Yard) -> None:
    assert not noise(yard, 4 * LEAST, apart_s=0.1)
    assert "  noise " not in shown(yard)
