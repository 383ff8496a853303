"""A count that stands in a line of a press of its own counts the values of that press."""

from __future__ import annotations

import pytest

from acquire.model import Reading
from drivers.line import FAMILY as LINE
from tests.drivers.faulty import told
from tests.drivers.test_together import OK, SHORT_MS, VALUE, Line, lines

NUMBER = {"means": "nothing", "pattern": r"#(?P<count>\d{3})", "in_press": [1]}


def test_the_values_of_a_press_have_the_count_of_the_line_beside_them() -> None:
    line = Line(LINE, lines(NUMBER, VALUE))
    facts = line.hear(b"#007\r\n") + line.hear(b"91.4 GU\r\n", SHORT_MS) + line.hear(b"")
    assert [fact.press for fact in facts if isinstance(fact, Reading)] == [7]


def test_a_leap_of_it_is_told_and_the_same_one_again_is_a_repeat() -> None:
    line = Line(LINE, lines(NUMBER, VALUE))
    assert line.press(b"#007\r\n91.4 GU\r\n") == ["91.4"]
    assert line.press(b"#007\r\n91.4 GU\r\n") == ["repeat"]
    assert line.press(b"#008\r\n45.2 GU\r\n") == ["45.2"]
    assert line.press(b"#009\r\n12.0 GU\r\n", b"#010\r\n33.3 GU\r\n") == ["12.0", "33.3"]
    assert line.press(b"#015\r\n71.8 GU\r\n")[-1] == "71.8"
    assert len(line.press(b"#015\r\n60.1 GU\r\n")) > 1


def test_two_counts_of_one_press_that_differ_make_it_noise() -> None:
    own = VALUE | {"pattern": r"(?P<count>\d+) (?P<value>\d+\.\d) GU"}
    line = Line(LINE, lines(NUMBER, own))
    assert line.press(b"#007\r\n7 91.4 GU\r\n") == ["91.4"]
    assert set(line.press(b"#008\r\n9 45.2 GU\r\n")) == {"noise"}


@pytest.mark.parametrize("text", [b"#\r\n91.4 GU\r\n", b"91.4 GU\r\n", b"#12\r\n91.4 GU\r\n"])
def test_a_press_without_the_count_is_noise(text: bytes) -> None:
    optional = NUMBER | {"pattern": r"#(?P<count>\d{3})?"}
    assert set(Line(LINE, lines(optional, VALUE)).press(text)) == {"noise"}


def test_a_line_that_means_nothing_counts_only_as_one_of_a_press_with_the_checksum_of_all() -> None:
    alone = {key: value for key, value in NUMBER.items() if key != "in_press"}
    for number in (alone, NUMBER | {"checksum": False}):
        got, wanted = told(LINE, lines(number, OK, VALUE))["message[0].pattern"]
        assert got == "the group 'count'"
        assert "in_press" in wanted
