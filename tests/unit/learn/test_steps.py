"""What is told where nothing could be learned names a step that whoever reads it can take."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import reduce
from operator import xor

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Outcome, Press, learn
from acquire.learn.profile.proved import faults
from acquire.model import Quantity

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, channel="60")
SHOWN = ("91.4", "45.2", "12.0")


def presses(*lines: str) -> list[Press]:
    return [Press(f"{t}\r\n".encode(), Decimal(v)) for t, v in zip(lines, SHOWN, strict=True)]


@pytest.mark.parametrize(
    ("lines", "step"),
    [
        (("914E-01", "452E-01", "120E-01"), "set the meter to another form of its numbers"),
        ([f"{'x' * 300} {v}" for v in SHOWN], "set the meter to send shorter lines"),
        ([f"{v} {v}/A" for v in SHOWN], ""),
        (("91.4 GU", "45.2 GX", "12.0 GU"), "set the meter to one unit"),
    ],
)
def test_each_reason_has_a_step_of_its_own(lines: tuple[str, ...], step: str) -> None:
    found = learn(presses(*lines), GLOSS, REGISTRY)
    assert (found.outcome is Outcome.SURE) == (not step)
    assert found.next_step.startswith(step)


def test_a_limit_that_a_press_has_passed_is_held_against_what_was_said() -> None:
    about = About(Quantity.GLOSS, channel="60", most=Decimal(50))
    found = learn(presses("91.4", "45.2", "12.0"), about, REGISTRY)
    assert found.against is not None
    assert found.against.part == "most"
    assert "leave them out" in found.next_step


def test_of_a_profile_that_was_not_written_nobody_is_told_to_mend_it() -> None:
    told = " ".join(faults("line", 'kind = "gloss"', presses(*SHOWN), REGISTRY))
    assert "its driver takes no such profile" in told
    assert "wanted" in told
    assert not re.search(r"[a-z\]]: got", told)
    assert "mend" not in told
    assert "Next" not in told


def test_the_length_of_a_line_is_told_as_it_is_counted() -> None:
    bodies = [f"G60 {value:>7} GU" for value in SHOWN]
    sums = [reduce(xor, body.encode()) for body in bodies]
    checked = [f"{body}*{one:02X}" for body, one in zip(bodies, sums, strict=True)]
    for lines, words in (
        (bodies, "other than 14 characters (without its end)"),
        (checked, "other than 17 characters (with its checksum and without its end)"),
    ):
        found = learn(presses(*lines), GLOSS, REGISTRY)
        assert len(lines[0]) == int(words.split()[2])
        assert any(words in told for told in found.unseen)


def test_a_byte_behind_a_text_that_changes_its_length_is_told_as_what_it_is() -> None:
    sent = [f"\x02{value} GU\x03".encode() for value in ("91.4", "145.2", "2.0")]
    made = [Press(text + bytes([sum(text) & 0xFF]), Decimal(text[1:-4].decode())) for text in sent]
    found = learn(made, GLOSS, REGISTRY)
    assert found.outcome is Outcome.NONE
    assert "one byte behind it" in found.believed[0]
    assert "numbers of a fixed width" in found.next_step
