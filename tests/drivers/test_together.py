"""Lines and frames of a press taken together: all good or all noise, a silence after them."""

from __future__ import annotations

import random
from typing import Any

import pytest

from acquire.driverapi import Driver, Family
from acquire.driverkit.together import MOST_BYTES
from acquire.model import Fact, Flag, Instant, Noise, Notice, Reading
from drivers.frame import FAMILY as FRAME
from drivers.line import FAMILY as LINE
from tests.drivers.faulty import told

OK = {"means": "nothing", "pattern": "OK", "in_press": [1]}
VALUE = {"means": "reading", "pattern": r"(?P<value>\d{1,3}\.\d) GU", "in_press": [2]}
SHORT_MS, LONG_MS = 30, 600


def lines(*messages: dict[str, Any], **text: object) -> dict[str, Any]:
    """A profile of lines of these messages."""
    return {
        "kind": "gloss",
        "line": {"baud_rate": 9600},
        "text": {"terminator": "\r\n", "together_s": 0.25, **text},
        "message": list(messages) or [OK, VALUE],
        "unit": {"default": "gloss_unit"},
        "geometry": {"default": 60},
    }


def frames(*, end: str = "0D", **frame: object) -> dict[str, Any]:
    """A profile of frames of four bytes with a number in tenths."""
    value = {"offset": 1, "type": "uint16", "order": "big", "scale": 1}
    trouble = {"means": "trouble", "where": [{"offset": 1, "is": "FF"}]}
    return {
        "kind": "gloss",
        "line": {"baud_rate": 9600},
        "frame": {
            "start": "A5", "end": end, "bytes": 4, "silence_s": 0.25, "together": True, **frame
        },
        "message": [trouble, {"means": "reading", "value": [value],
                              "where": [{"offset": 1, "mask": "F0", "is": "00"}]}],
        "unit": {"default": "gloss_unit"},
        "geometry": {"default": 60},
    }  # fmt: skip


class Line:
    """A driver, bytes that come, and pauses between."""

    def __init__(self, family: Family, table: dict[str, Any]) -> None:
        self.driver: Driver = family.driver(table, "test")
        self._now = 10**9
        self.driver.opening(self._at())

    def _at(self) -> Instant:
        return Instant(self._now, self._now)

    def hear(self, data: bytes, after_ms: int = LONG_MS) -> list[Fact]:
        self._now += after_ms * 1_000_000
        return self.driver.feed(data, self._at())

    def press(self, *parts: bytes) -> list[str]:
        """What comes of parts with short pauses between, and a silence after them."""
        facts = self.hear(parts[0])
        for part in parts[1:]:
            facts += self.hear(part, SHORT_MS)
        return short(facts + self.hear(b""))


def short(facts: list[Fact]) -> list[str]:
    """Values of readings, kinds of notices, "noise" and "repeat"."""
    words = []
    for fact in facts:
        if isinstance(fact, Reading):
            words.append("repeat" if Flag.REPEAT in fact.flags else str(fact.value))
        elif isinstance(fact, Notice):
            words.append(fact.kind.value)
        elif isinstance(fact, Noise):
            words.append("noise")
    return words


def test_the_lines_of_a_press_are_a_reading_that_bears_their_moment() -> None:
    line = Line(LINE, lines())
    assert line.hear(b"OK\r\n91.4 GU\r\n") == []
    (fact,) = line.hear(b"", 260)
    assert isinstance(fact, Reading)
    assert fact.raw == b"OK\r\n91.4 GU"
    assert (fact.start, fact.end) == (0, 11)
    assert fact.at.mono_ns == 10**9 + LONG_MS * 1_000_000


@pytest.mark.parametrize(
    "press",
    [b"ERR 7\r\n81.0 GU\r\n", b"81.0 GU\r\n", b"OK\r\n81.0 GU\r\nERR\r\n", b"OK\r\n",
     b"\xff\r\nOK\r\n81.0 GU\r\n", b"81.0 GU\r\nOK\r\n",
     b"OK\r\n91.4 GU\r\nERR\r\n81.0 GU\r\n"],
)  # fmt: skip
def test_a_press_with_a_line_otherwise_or_missing_is_noise(press: bytes) -> None:
    line = Line(LINE, lines())
    assert set(line.press(press)) == {"noise"}
    assert line.press(b"OK\r\n", b"91.4", b" GU\r\n") == ["91.4"]


def test_a_line_begun_behind_a_press_makes_it_noise() -> None:
    assert set(Line(LINE, lines()).press(b"OK\r\n81.0 GU\r\n?")) == {"noise"}


def test_two_values_that_come_at_once_are_no_press() -> None:
    """One of them may be a mean, or the last value again."""
    assert set(Line(LINE, lines()).press(b"OK\r\n91.4 GU\r\nOK\r\n45.2 GU\r\n")) == {"noise"}


@pytest.mark.parametrize("times", [2, 3, 400])
def test_the_same_line_or_frame_again_in_a_press_is_a_repeat_of_it(times: int) -> None:
    """A person does not press within the silence that ends a press: it is one reading."""
    wanted = ["91.4"] + ["repeat"] * (times - 1)
    line = Line(LINE, lines(VALUE | {"in_press": [1]}))
    assert line.press(b"91.4 GU\r\n" * times) == wanted
    assert line.press(b"91.4 GU\r\n", *[b"91.4 GU\r\n"] * (times - 1)) == wanted
    assert line.press(b"91.4 GU\r\n") == ["91.4"], "the next press is one of its own"
    line = Line(LINE, lines())
    assert line.press(b"OK\r\n91.4 GU\r\n" * times) == wanted
    frame = Line(FRAME, frames())
    assert frame.press(b"\xa5\x03\x92\x0d" * times) == ["914"] + ["repeat"] * (times - 1)
    assert frame.press(b"\xa5\x03\x92\x0d") == ["914"]


def test_the_same_value_in_another_line_or_frame_of_a_press_is_noise() -> None:
    """What is otherwise may say that it is none; only its count could make it another press."""
    value = VALUE | {"pattern": r"[AB] (?P<value>\d{1,3}\.\d) GU", "in_press": [1]}
    assert set(Line(LINE, lines(value)).press(b"A 91.4 GU\r\nB 91.4 GU\r\n")) == {"noise"}
    table = frames(bytes=5)
    assert set(Line(FRAME, table).press(bytes.fromhex("A50392000D A50392010D"))) == {"noise"}


def test_where_presses_are_counted_the_count_tells_how_many_came() -> None:
    counted = VALUE | {"pattern": r"(?P<count>\d+) (?P<value>\d+\.\d) GU", "in_press": [1]}
    line = Line(LINE, lines(counted))
    assert line.press(b"7 91.4 GU\r\n7 91.4 GU\r\n8 91.4 GU\r\n") == ["91.4", "repeat", "91.4"]


def test_presses_that_come_at_once_are_readings_each_where_they_are_counted() -> None:
    counted = VALUE | {"pattern": r"(?P<count>\d+) (?P<value>\d+\.\d) GU", "in_press": [1]}
    line = Line(LINE, lines(counted))
    assert line.press(b"7 91.4 GU\r\n8 45.2 GU\r\n") == ["91.4", "45.2"]
    assert set(line.press(b"9 91.4 GU\r\n9 45.2 GU\r\n")) == {"noise"}


def test_lines_that_stand_by_themselves_are_told_even_so() -> None:
    power = {"means": "power-up", "pattern": "HELLO"}
    line = Line(LINE, lines(power, OK, VALUE))
    assert line.press(b"HELLO\r\n") == ["power-up"]
    assert line.press(b"HELLO\r\nOK\r\n91.4 GU\r\n") == ["power-up", "91.4"]
    assert line.press(b"HELLO\r\nNO\r\n91.4 GU\r\n") == ["power-up", "noise", "noise"]


def test_trouble_beside_a_value_leaves_no_value() -> None:
    behind = {"means": "trouble", "pattern": "E(?P<code>[A-Z]{1,8})"}
    good = {"means": "nothing", "pattern": "GOOD", "in_press": [2]}
    value = VALUE | {"in_press": [1]}
    line = Line(LINE, lines(value, good, behind | {"in_press": [2]}))
    assert line.press(b"91.4 GU\r\nGOOD\r\n") == ["91.4"]
    assert line.press(b"81.0 GU\r\nELAMP\r\n") == ["trouble"]
    line = Line(LINE, lines(value, behind))
    assert line.press(b"81.0 GU\r\nELAMP\r\n") == ["noise", "trouble"]


def test_the_same_value_twice_in_a_press_is_one_and_another_one_is_noise() -> None:
    line = Line(LINE, lines(VALUE | {"in_press": [1, 2]}))
    assert line.press(b"91.4 GU\r\n91.4 GU\r\n") == ["91.4"]
    assert line.press(b"91.4 GU\r\n45.2 GU\r\n") == ["noise", "noise"]


def test_a_line_without_checksum_may_stand_beside_those_that_have_one() -> None:
    table = lines(OK | {"checksum": False}, VALUE)
    table["checksum"] = {"kind": "sum8", "after": "*"}
    line = Line(LINE, table)
    good = b"91.4 GU*%02X\r\n" % (sum(b"91.4 GU") & 0xFF)
    assert line.press(b"OK\r\n" + good) == ["91.4"]
    assert set(line.press(b"NO\r\n" + good)) == {"noise"}


def test_what_a_lost_link_cuts_off_is_noise() -> None:
    line = Line(LINE, lines())
    line.hear(b"OK\r\n91.4 GU\r\n")
    facts = line.driver.lost(Instant(3 * 10**9, 3 * 10**9))
    assert short(facts) == ["noise", "noise"]


def test_a_line_that_never_falls_silent_is_noise_in_bounded_memory() -> None:
    line = Line(LINE, lines())
    facts: list[Fact] = []
    for _ in range(3 * MOST_BYTES // 13):
        facts += line.hear(b"OK\r\n91.4 GU\r\n", SHORT_MS)
    assert set(short(facts + line.hear(b""))) == {"noise"}
    assert line.press(b"OK\r\n91.4 GU\r\n") == ["91.4"]


@pytest.mark.parametrize("beside", [b"\xee", b"\x00", b"\xa5", b"\xa5\xee\x00\x0d", b"\xa5\x01"])
def test_bytes_beside_a_frame_make_it_noise(beside: bytes) -> None:
    good = b"\xa5\x03\x92\x0d"
    line = Line(FRAME, frames())
    assert line.press(good) == ["914"]
    assert set(line.press(good + beside)) == {"noise"}
    assert set(line.press(beside + good)) == {"noise"}
    assert set(line.press(good, beside)) == {"noise"}
    assert set(line.press(good + b"\xa5\x01\xc4\x0d")) == {"noise"}
    assert line.press(good + good) == ["914", "repeat"]


def test_a_frame_of_trouble_beside_one_with_a_value_leaves_no_value() -> None:
    line = Line(FRAME, frames())
    assert line.press(b"\xa5\x03\x92\x0d\xa5\xff\x07\x0d") == ["noise", "trouble"]


def test_faults_of_a_profile_whose_presses_have_gaps_are_told() -> None:
    assert "text.together_s" in told(LINE, lines(together_s=0))
    assert "message[0].in_press" in told(LINE, lines(VALUE | {"in_press": []}))
    assert "no message in_press = [1]" in told(LINE, lines(VALUE))["message"][0]
    assert "checksum" in str(told(LINE, lines(OK, VALUE | {"checksum": False})))


@pytest.mark.parametrize("seed", range(20))
def test_the_facts_do_not_depend_on_how_the_bytes_are_cut(seed: int) -> None:
    dice = random.Random(seed)
    presses = [
        b"".join(dice.choice([b"OK\r\n", b"91.4 GU\r\n", b"ERR\r\n", b"4"]) for _ in range(4))
        for _ in range(12)
    ]
    whole, cut = Line(LINE, lines()), Line(LINE, lines())
    for press in presses:
        place = dice.randrange(len(press))
        facts = whole.hear(press) + whole.hear(b"")
        other = cut.hear(press[:place]) + cut.hear(press[place:], 0) + cut.hear(b"")
        assert facts == other
