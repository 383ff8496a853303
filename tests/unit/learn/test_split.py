"""A capture is cut into presses by its pauses, whatever the chunks."""

from __future__ import annotations

import pytest

from acquire.learn import Chunk, split


def capture(*pairs: tuple[float, bytes]) -> list[Chunk]:
    return [Chunk(round(at_s * 1e9), data) for at_s, data in pairs]


def test_bursts_are_presses_however_their_bytes_were_cut() -> None:
    heard = split(
        capture((1, b"9"), (1.01, b"1.4\r\n"), (4, b"45.2\r\n"), (9, b"12"), (9.1, b".0\r\n"))
    )
    assert heard.presses == (b"91.4\r\n", b"45.2\r\n", b"12.0\r\n")
    assert heard.pause_s == pytest.approx(0.1)
    assert not heard.streams


def test_slow_lines_within_a_press_stay_together_where_the_number_of_presses_is_known() -> None:
    chunks = []
    for start in (1, 8, 15):
        chunks += [
            (start, b"20 91.4\r\n"),
            (start + 0.4, b"60 95.0\r\n"),
            (start + 0.8, b"85 99.0\r\n"),
        ]
    assert len(split(capture(*chunks), 3).presses) == 3
    assert len(split(capture(*chunks)).presses) == 9


def test_too_many_bursts_are_never_glued_to_fit_the_number_of_presses() -> None:
    chunks = capture((1, b"a"), (3, b"b"), (5.5, b"c"), (8, b"d"))
    assert len(split(chunks, 3).presses) == 4


def test_a_result_that_is_sent_again_is_one_press() -> None:
    chunks = [(at + again, f"{at}.0\r\n".encode()) for at in (1, 11, 21) for again in (0, 1, 2)]
    heard = split(capture(*chunks), 3)
    assert heard.presses == (b"1.0\r\n", b"11.0\r\n", b"21.0\r\n")
    assert heard.again_s == pytest.approx(1.0)


@pytest.mark.parametrize("step_s", [0.001, 0.1, 0.5])
def test_a_meter_that_streams_is_told_as_such(step_s: float) -> None:
    count = max(40, round(3 / step_s))
    heard = split(capture(*((place * step_s, b"+01.250 N\r\n") for place in range(count))), 3)
    assert heard.streams


def test_nothing_is_no_press() -> None:
    assert split([]).presses == ()
    assert split(capture((1, b""))).presses == ()
