"""A meter that is set up first: what the shipped pattern says of it, and what is sent."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from acquire.model import Noise, NoticeKind
from acquire.schema import load_text, parse_toml
from acquire.settings import config_dir
from drivers.line import tables
from tests.drivers.test_line_driver import Bench

PATTERN = config_dir() / "profiles" / "gloss-press.toml"
COMMENTED = '# [start]\n# command = "REMOTE\\r\\n"\n'
ASKED = b"I?\r\n"


@pytest.fixture
def set_up_first() -> dict[str, Any]:
    """The shipped pattern with the table that stands in it as a comment."""
    text = load_text(PATTERN)
    assert text.count(COMMENTED) == 1
    table = parse_toml(text.replace(COMMENTED, COMMENTED.replace("# ", "")), "pattern")
    assert table["start"] == {"command": "REMOTE\r\n"}
    return table


def test_the_command_goes_out_as_it_is_written_before_the_meter_is_asked_who_it_is(
    set_up_first: dict[str, Any],
) -> None:
    assert Bench(set_up_first).sent == [b"REMOTE\r\n" + ASKED]
    set_up_first["start"]["command"] = "REMOTE\r\nUNIT GU\r\n"
    assert Bench(set_up_first).sent == [b"REMOTE\r\nUNIT GU\r\n" + ASKED]


def test_its_answer_is_noise_until_a_message_takes_it(set_up_first: dict[str, Any]) -> None:
    assert isinstance(Bench(set_up_first).hear(b"OK\r\n")[0], Noise)
    set_up_first["message"].append({"means": "nothing", "pattern": "OK", "checksum": False})
    assert Bench(set_up_first).hear(b"OK\r\n") == []


def test_it_is_not_sent_again_to_a_meter_that_was_switched_on_meanwhile(
    set_up_first: dict[str, Any],
) -> None:
    bench = Bench(set_up_first)
    (told,) = [one for one in bench.hear(b"B,SH-0417,1.4*5D\r\n") if not isinstance(one, Noise)]
    assert told.kind is NoticeKind.POWER_UP  # type: ignore[union-attr]
    assert not any(b"REMOTE" in sent for sent in bench.wait(20.0))


@pytest.mark.parametrize(
    "name",
    [
        name
        for name, field in tables.ProfileTables.model_fields.items()
        if "Table" in str(field.annotation)
    ],
)
def test_every_table_of_a_line_profile_stands_in_a_shipped_one(name: str) -> None:
    shipped = [
        text
        for path in Path(PATTERN.parent).glob("*.toml")
        if "\n[text]\n" in (text := load_text(path))
    ]
    assert len(shipped) > 5
    assert any(re.search(rf"^(# *)?\[\[?{name}\]?\]$", text, re.MULTILINE) for text in shipped)
