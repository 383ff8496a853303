"""A short, fixed run of ``python -m tests.fuzz``, and the faults that it has to find."""

from __future__ import annotations

import sys
from collections.abc import Callable

import pytest

from acquire.driverapi import Driver, Due
from acquire.driverapi.spoiling import Spoilt
from acquire.model import Fact, Instant, Reading
from tests.fuzz.__main__ import main, watched
from tests.fuzz.run import again_by, run
from tests.fuzz.subjects import Subject, subjects
from tests.fuzz.trial import Case, case_of, tried
from tests.fuzz.truth import Truth

SUBJECTS = {one.profile: one for one in subjects()}
BYTES = 3_000


@pytest.mark.parametrize("profile", SUBJECTS)
def test_spoiled_bytes_do_no_harm(profile: str) -> None:
    found = run(SUBJECTS[profile], BYTES, seed=3)
    assert found.faults == ()
    assert found.received >= BYTES


def test_every_family_that_is_installed_is_fuzzed() -> None:
    assert {one.family.name for one in SUBJECTS.values()} == {
        "frame", "hid", "keyed", "line", "modbus", "usbtmc",
    }  # fmt: skip


class Spoiled:
    """A real driver with something broken in `feed`."""

    def __init__(self, real: Driver, feed: Callable[[Driver, bytes, Instant], list[Fact]]) -> None:
        self.real = real
        self._feed = feed

    def opening(self, at: Instant) -> bytes:
        return self.real.opening(at)

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        return self._feed(self.real, data, at)

    def due(self, now: Instant) -> Due:
        return self.real.due(now)

    def take(self, at: Instant) -> bytes:
        return self.real.take(at)

    def lost(self, at: Instant) -> list[Fact]:
        return self.real.lost(at)


def raising(real: Driver, data: bytes, at: Instant) -> list[Fact]:
    if b"\x80" in data:
        raise IndexError("no such entry")
    return real.feed(data, at)


def guessing(real: Driver, data: bytes, at: Instant) -> list[Fact]:
    return [changed(fact, more=1) for fact in real.feed(data, at)]


def in_other_units(real: Driver, data: bytes, at: Instant) -> list[Fact]:
    return [changed(fact, unit="newtons") for fact in real.feed(data, at)]


def changed(fact: Fact, more: int = 0, unit: str = "") -> Fact:
    if not isinstance(fact, Reading) or fact.value is None:
        return fact
    return Reading(
        fact.quantity, fact.channel, fact.value + more, unit or fact.unit, fact.text, fact.at,
        fact.raw, fact.start, fact.end, fact.press, fact.flags,
    )  # fmt: skip


heap: list[bytes] = []


def keeping(real: Driver, data: bytes, at: Instant) -> list[Fact]:
    heap.append(bytes(data) * 5000)
    return real.feed(data, at)


def broken(profile: str, feed: Callable[[Driver, bytes, Instant], list[Fact]]) -> Subject:
    whole = SUBJECTS[profile]
    return whole._replace(driver=lambda: Spoiled(whole.driver(), feed))


@pytest.mark.parametrize(
    ("feed", "said"),
    [
        (raising, "IndexError: no such entry"),
        (guessing, "which means"),
        (in_other_units, "the unit 'newtons'"),
    ],
)
def test_a_broken_driver_is_found_with_a_short_case_that_shows_it_again(
    feed: Callable[[Driver, bytes, Instant], list[Fact]], said: str
) -> None:
    subject = broken("gloss-press", feed)
    found = run(subject, 40_000, seed=1)
    fault = found.faults[0]
    assert said in fault
    label = fault.rsplit(" ", 1)[1]
    case = case_of(label)
    assert again_by(subject, case) in fault
    assert case.least_bytes < 1024
    assert said in tried(subject, case, Truth(subject)).fault


def test_memory_that_grows_with_the_bytes_is_found() -> None:
    heap.clear()
    try:
        found = run(broken("force-peak", keeping), 60_000, seed=1)
    finally:
        heap.clear()
    assert any("bytes were kept" in fault for fault in found.faults), found.faults


def test_without_a_checksum_a_value_beside_the_text_is_found() -> None:
    found = run(broken("force-peak", guessing), 60_000, seed=1)
    assert "of 'P" in found.faults[0]


def test_a_case_is_made_again_by_its_label_alone() -> None:
    case = Case(Spoilt.HEAVY, 256, "1f")
    assert case_of(case.label) == case
    subject = SUBJECTS["gloss-asked"]
    first, second = (tried(subject, case, Truth(subject)) for _ in range(2))
    assert first._replace(seconds=0.0) == second._replace(seconds=0.0)
    with pytest.raises(ValueError, match="no case"):
        case_of("some-256-1f")


def test_the_command_tells_figures_and_ends_in_peace(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--only", "gloss-asked", "--bytes", "5000", "--seed", "2"]) == 0
    said = capsys.readouterr().out
    assert "gloss-asked" in said
    assert said.rstrip().endswith("with seed 2: no faults")
    assert main(["--only", "gloss-asked", "--case", "light-64-a"]) == 0


@pytest.mark.skipif(sys.platform == "win32", reason="there is no clock of the processor")
def test_a_driver_that_hangs_is_broken_off_and_its_case_is_told() -> None:
    def hanging(real: Driver, data: bytes, at: Instant) -> list[Fact]:
        while True:
            pass

    found = watched(broken("gloss-asked", hanging), 1000, 1, hangs_after_s=0.2)
    assert "did not come to its end within 0.2 s of processor" in found.faults[0]
    assert "again: python -m tests.fuzz --only gloss-asked --case" in found.faults[0]
