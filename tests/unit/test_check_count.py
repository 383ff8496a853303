"""A check that the count in a meter's messages broke off says which number that is."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.driverapi import Driver
from acquire.driverapi.registry import Registry
from acquire.live.verdict import verdict
from acquire.store.reader import StoreReader
from tests.yard import Yard

PROFILE = """
kind = "gloss"
[line]
baud_rate = 9600
data_bits = 8
parity = "none"
stop_bits = 1
[text]
terminator = "\\n"
encoding = "ascii"
max_line_bytes = 64
line_timeout_s = 0.5
[[message]]
means = "reading"
pattern = 'B (?P<count>\\d{3}) (?P<value>\\d+\\.\\d) (?P<unit>GU)'
example = "B 001 91.4 GU"
[[message]]
means = "power-up"
pattern = 'READY'
example = "READY"
[value]
decimal = "."
least = -20
most = 199.9
most_decimals = 1
[unit]
tokens = { "GU" = "gloss_unit" }
[geometry]
default = 20
[press]
echo_window_s = 0.0
"""


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    yard = Yard(tmp_path)
    yard.plug("shore")
    yield yard
    yard.close()


def driver(press: str = "") -> Driver:
    table = tomllib.loads(PROFILE + press)
    return Registry().family("line").driver(table, "profile")


def checked(yard: Yard, meter: Driver, *lines: str) -> list[str]:
    """The verdict of a check in which these lines come."""
    yard.act(lambda at: yard.acts.checks.begin("shore", at))
    for line in lines:
        yard.clock.advance(5)
        yard.take_in("shore", *meter.feed(f"{line}\n".encode("ascii"), yard.clock.now()))
    with StoreReader(yard.bench.store) as store:
        check_id = store.one("SELECT max(check_id) FROM check_judgement")
        passed, told = verdict(store, int(check_id or 0), yard.clock.now().utc_ns)
    assert not passed
    assert told[0].endswith(": BROKEN OFF")
    return told


@pytest.mark.parametrize(("before", "after"), [(8, 50), (51, 2)])
def test_a_count_that_leaps_or_goes_back_is_named_with_both_numbers_and_the_way_to_mend_it(
    yard: Yard, before: int, after: int
) -> None:
    told = checked(yard, driver(), f"B {before:03} 93.2 GU", f"B {after:03} 93.2 GU")
    (named,) = [line for line in told if "counts its presses" in line]
    assert named.endswith(f": it was {before}, then {after}")
    assert "by the profile gloss-press" in named
    assert any("take count out of that profile" in line for line in told)
    assert told[-1].startswith("next: coatbench check shore once it is in your hand; ")
    assert "mend its profile first" in told[-1]


def test_a_count_beyond_what_was_learned_is_told_with_the_key_that_raises_it(yard: Yard) -> None:
    told = checked(yard, driver("proven_count = 3\n"), "B 003 93.2 GU", "B 004 93.2 GU")
    assert any(line.endswith(": it was 3, then 4") for line in told)
    assert any("proven_count of the profile" in line for line in told)


def test_a_meter_that_says_itself_that_it_was_switched_on_is_believed(yard: Yard) -> None:
    told = checked(yard, driver(), "B 008 93.2 GU", "READY")
    assert not any("count" in line for line in told)
    assert told[-1] == "next: coatbench check shore"
