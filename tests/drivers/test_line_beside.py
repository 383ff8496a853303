"""The geometry of a press in another line than that of its number."""

from __future__ import annotations

from typing import Any

import pytest

from drivers.line.family import load
from drivers.line.whole import Whole

TABLE: dict[str, Any] = {
    "kind": "gloss",
    "line": {"baud_rate": 9600},
    "text": {"terminator": "\n", "together_s": 0.25},
    "message": [
        {"means": "nothing", "pattern": "A (?P<geometry>[0-9]+)", "in_press": [1, 3]},
        {"means": "reading", "pattern": r"(?P<value>[0-9]+\.[0-9]) GU", "in_press": [2]},
    ],
    "unit": {"default": "gloss_unit"},
    "geometry": {"tokens": {"20": 20, "60": 60}},
}


def press(*lines: str) -> bytes:
    return "".join(f"{line}\n" for line in lines).encode()


@pytest.mark.parametrize("angle", ["20", "60"])
def test_the_value_of_a_press_is_of_the_geometry_that_its_other_lines_say(angle: str) -> None:
    heard = Whole(load(TABLE, "test")).decode(press(f"A {angle}", "91.4 GU", f"A {angle}"))
    assert [(str(one.value), one.channel) for one in heard if not isinstance(one, str)] == [
        ("91.4", angle)
    ]


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        (("A 20", "91.4 GU", "A 60"), "geometry: got 2 in one press, wanted 1"),
        (("A 85", "91.4 GU", "A 85"), "the geometry '85' is not in the profile"),
        (("A 20", "91.4 GU"), "lines in a press: got 2, wanted 3"),
        (("91.4 GU",), "lines in a press: got 1, wanted 3"),
    ],
)
def test_without_one_geometry_all_of_the_press_is_noise(lines: tuple[str, ...], why: str) -> None:
    heard = Whole(load(TABLE, "test")).decode(press(*lines))
    assert isinstance(heard, str)
    assert why in heard


def test_no_line_may_leave_the_geometry_out() -> None:
    table = {**TABLE, "message": [dict(one) for one in TABLE["message"]]}
    table["message"][0]["in_press"] = [1]
    table["message"].append({"means": "nothing", "pattern": "B", "in_press": [1]})
    heard = Whole(load(table, "test")).decode(press("B", "91.4 GU"))
    assert heard == "geometry: got 0 in one press, wanted 1"
