"""Readings of a meter behind a cable that may be moved, from its lines to what the store keeps."""

from __future__ import annotations

import pytest

from acquire.driverapi import Driver
from acquire.errors import Refused
from acquire.model import UNKNOWN_SERIAL, NoticeKind
from acquire.settings.bench import InstrumentTable
from drivers.line import FAMILY
from tests.benchmarks.lines import name_line, press_line
from tests.captures import profile
from tests.yard import Yard


@pytest.fixture
def driver(yard: Yard) -> Driver:
    """That of shore, past the time in which a reading passes for an echo; it has told its name."""
    driver = FAMILY.driver(profile("gloss-press"), "gloss-press")
    driver.opening(yard.clock.now())
    feed(yard, driver, name_line("SH-0417"))
    yard.clock.advance(2)
    return driver


def feed(yard: Yard, driver: Driver, data: bytes) -> None:
    yard.take_in("shore", *driver.feed(data, yard.clock.now()))


def test_a_loose_reading_keeps_the_serial_number_that_was_true_when_it_came(
    yard: Yard, driver: Driver
) -> None:
    yard.check("shore")
    yard.begin()
    yard.act(lambda at: yard.acts.runs.finish("", at))
    for count, serial in ((1, "SH-0417"), (2, "DK-2205"), (3, "SH-0417")):
        # The cable was moved since the last one, and the count goes on.
        feed(yard, driver, press_line(count, "80.0"))
        yard.clock.advance(0.02)
        feed(yard, driver, name_line(serial))
    found = yard.readings("role = 'loose' AND press IS NOT NULL")
    assert [row["serial"] for row in found] == ["SH-0417", "DK-2205", "SH-0417"]

    def assign(row: dict[str, object]) -> None:
        number = row["reading_id"]
        assert isinstance(number, int)
        yard.act(
            lambda at: yard.acts.readings.assign(
                number, "gelcoat", None, "A1", "bare", 1, "pressed too early", at
            )
        )

    for other in found[1:]:
        with pytest.raises(Refused, match="may not count"):
            assign(other)
    assign(found[0])
    assert yard.readings("counts = 1")[0]["reading_id"] == found[0]["reading_id"]


def test_a_meter_that_does_not_tell_its_serial_number_ends_the_pass_with_one_message(
    yard: Yard, driver: Driver
) -> None:
    yard.check("shore")
    yard.begin()
    for count in (1, 2):
        feed(yard, driver, press_line(count, "80.0"))
        yard.clock.advance(3)
        feed(yard, driver, b"")
    found = yard.readings("press IS NOT NULL")
    told = "it was asked for its serial number and did not tell it"
    assert [(row["serial"], row["role"], row["loose_reason"]) for row in found] == [
        (UNKNOWN_SERIAL, "loose", told)
    ] * 2
    (incident,) = yard.writer.query("SELECT message FROM incident")
    message = str(incident["message"])
    assert message.startswith(f"shore: {told}, wanted SH-0417. Next: ")
    assert message.endswith("then coatbench check shore")
    with pytest.raises(Refused, match="check") as refusal:
        yard.check("shore")
    assert refusal.value.next_step.startswith("press shore once, so that it is asked anew, then")
    # A press to which it tells who it is: it can be checked again, and nothing is said of it now.
    feed(yard, driver, press_line(3, "80.0"))
    feed(yard, driver, name_line("SH-0417"))
    assert yard.desk.standings["shore"].message == "connected as /dev/shore"
    yard.check("shore")
    yard.tell("shore", NoticeKind.IDENTITY, "SH-0417")
    assert yard.desk.standings["shore"].passed is not None


def test_no_bench_file_has_the_serial_number_of_a_meter_that_told_none() -> None:
    with pytest.raises(ValueError, match="as the instrument itself bears it"):
        InstrumentTable.model_validate(
            {"id": "shore", "kind": "gloss", "serial": UNKNOWN_SERIAL, "driver": "line"}
        )
