"""A stretch of a tape keeps places and moments, and cuts no fact in two."""

from __future__ import annotations

from acquire.link.tape import RECEIVED, SENT, Ended, Made, Missing, Passed, Tape
from acquire.link.tape_cut import cut, without_last
from acquire.model import Instant

OPENED = Instant(10**18, 10**12)


def at(seconds: float) -> Instant:
    return Instant(OPENED.utc_ns + round(seconds * 1e9), OPENED.mono_ns + round(seconds * 1e9))


def noise(start: int, end: int, seconds: float) -> Made:
    return Made("noise", start, end, at(seconds).utc_ns, (("reason", ""),))


# A frame of ten bytes a second; the one of second 3 comes in two chunks.
TAPE = Tape(
    OPENED,
    "meter",
    (
        Passed(SENT, 0, at(0), b"?"),
        Passed(RECEIVED, 0, at(1), b"0123456789"),
        Passed(RECEIVED, 10, at(2), b"0123456789"),
        Passed(RECEIVED, 20, at(3), b"01234"),
        Passed(RECEIVED, 25, at(3.5), b"56789"),
        Passed(SENT, 1, at(4), b"?"),
        Passed(RECEIVED, 30, at(5), b"0123456789"),
    ),
    made=(
        noise(0, 10, 1),
        noise(10, 20, 2),
        noise(20, 30, 3.5),
        noise(30, 30, 4),
        noise(30, 40, 5),
    ),
    missing=(Missing(at(2.2).utc_ns, at(2.4).utc_ns, 0), Missing(at(4.5).utc_ns, at(5).utc_ns, 0)),
    ended=Ended(at(6), "unplugged"),
)


def test_a_whole_cut_is_the_tape() -> None:
    assert cut(TAPE) == TAPE
    assert cut(TAPE, 0.0, 7.0)._replace(ended=TAPE.ended) == TAPE


def test_a_stretch_has_what_passed_then_and_what_was_made_of_it() -> None:
    stretch = cut(TAPE, 2.0, 3.6)
    assert [p.offset for p in stretch.passed] == [10, 20, 25]
    assert [m.start for m in stretch.made] == [10, 20]
    assert stretch.received_before == 10
    assert stretch.opened == OPENED
    assert [m.lost_bytes for m in stretch.missing] == [0]
    assert stretch.ended == Ended(at(3.6), "cut here", is_cut=True)


def test_a_beginning_within_a_fact_goes_back_to_where_the_fact_begins() -> None:
    stretch = cut(TAPE, 3.4)
    assert stretch.passed[0] == TAPE.passed[3]
    assert stretch.received_before == 20
    assert stretch.ended == TAPE.ended


def test_an_end_within_a_fact_leaves_the_fact_out() -> None:
    stretch = cut(TAPE, None, 3.2)
    assert stretch.passed[-1] == TAPE.passed[3]
    assert [m.start for m in stretch.made] == [0, 10]


def test_what_silence_made_goes_with_its_moment() -> None:
    assert [(m.start, m.end) for m in cut(TAPE, 4.5).made] == [(30, 40)]
    assert [(m.start, m.end) for m in cut(TAPE, 3.9).made] == [(30, 30), (30, 40)]
    assert [(m.start, m.end) for m in cut(TAPE, 3.0, 3.9).made] == [(20, 30)]


def test_nothing_passed_gives_an_empty_stretch() -> None:
    assert cut(TAPE, 5.5).passed == ()
    assert cut(TAPE, 100.0, 200.0).passed == ()
    assert cut(TAPE, 1.2, 1.4).passed == ()


def test_a_tape_that_breaks_off_loses_its_last_bytes_since_their_facts_may_be_missing() -> None:
    part = without_last(TAPE._replace(ended=None))
    assert part.passed == TAPE.passed[:6]
    assert [(m.start, m.end) for m in part.made] == [(0, 10), (10, 20), (20, 30), (30, 30)]
    assert part.ended is not None
    assert part.ended.is_cut
