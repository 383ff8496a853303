"""Another meter behind an adapter that stays open: no reading is given the name of the one before.

Nothing on the line says that a cable was moved to another meter. What tells is its name, which is
asked for after every reading, and of a meter that cannot be asked its count.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.driverapi import Driver
from acquire.driverapi.guard import Guard
from acquire.model import (
    UNKNOWN_SERIAL,
    Fact,
    Instant,
    Noise,
    Notice,
    NoticeKind,
    Quantity,
    Reading,
)
from drivers.line import FAMILY
from tests.captures import profile

SECOND = 1_000_000_000


def checked(body: str) -> bytes:
    """A line of gloss-press, by drivers/line/WIRE.md."""
    parity = 0
    for byte in body.encode():
        parity ^= byte
    return f"{body}*{parity:02X}\r\n".encode()


class Meter(NamedTuple):
    driver: Driver
    seconds: list[int]

    def press(self, count: int, after_s: int = 10) -> list[Fact]:
        return self.hear(f"R,{count:04d},20,50.0,GU", after_s)

    def hear(self, body: str, after_s: int = 10) -> list[Fact]:
        self.seconds[0] += after_s
        return self.driver.feed(checked(body), self.now)

    @property
    def asks(self) -> bytes:
        return self.driver.due(self.now).send

    @property
    def now(self) -> Instant:
        return Instant(self.seconds[0] * SECOND, self.seconds[0] * SECOND)


def meter(*, can_be_asked: bool, proven_count: int | None = None) -> Meter:
    table = dict(profile("gloss-press"))
    if proven_count is not None:
        table["press"] = {"highest_count": 9999, "proven_count": proven_count}
    if not can_be_asked:
        del table["identify"]
    made = Meter(FAMILY.driver(table, "p"), [100])
    made.driver.opening(made.now)
    made.hear("I,SH-0417", 1)
    made.press(5)
    if can_be_asked:
        made.hear("I,SH-0417", 0)
    return made


def kinds(facts: list[Fact]) -> list[str]:
    return [fact.kind.value if isinstance(fact, Notice) else type(fact).__name__ for fact in facts]


def named(facts: list[Fact]) -> list[str]:
    """What readings and notices say."""
    return [fact.text for fact in facts if isinstance(fact, Notice | Reading)]


def test_a_count_that_leaps_is_that_of_a_meter_that_was_not_checked() -> None:
    # The reading comes after the power-up, so that it does not count under the old pass.
    gone = meter(can_be_asked=False)
    assert kinds(gone.press(206)) == ["power-up", "trouble", "Reading"]
    assert gone.asks == b""
    assert kinds(gone.press(207)) == ["Reading"]


def test_a_reading_of_a_meter_that_can_be_asked_waits_for_its_name_however_its_count_went() -> None:
    same = meter(can_be_asked=True)
    for count, told in ((6, []), (206, ["power-up", "trouble"]), (206, []), (210, ["trouble"])):
        # Told at once: what ends a pass waits for nobody.
        assert kinds(same.press(count)) == told
        assert same.asks == b"I?\r\n"
        assert kinds(same.hear("I,SH-0417", 0)) == ["Reading"]
        assert same.asks == b""


def test_the_reading_of_another_meter_comes_behind_its_name() -> None:
    gone = meter(can_be_asked=True)
    # Its count goes on by one, two seconds later.
    assert gone.press(6, after_s=2) == []
    assert named(gone.hear("I,DK-2205", 0)) == ["DK-2205", "50.0", "DK-2205"]


def test_all_that_comes_before_the_name_is_of_the_meter_that_tells_it() -> None:
    gone = meter(can_be_asked=True)
    gone.hear("R,0006,20,50.0,GU", 2)
    assert gone.hear("R,0006,60,81.5,GU", 0) == []
    assert gone.hear("E,0007,LAMP", 0) == []
    assert named(gone.hear("I,DK-2205", 0)) == ["DK-2205", "50.0", "81.5", "LAMP", "DK-2205"]


def test_a_reading_to_which_no_name_comes_is_of_nobody_known_within_three_seconds() -> None:
    mute = meter(can_be_asked=True)
    mute.press(6)
    asked = []
    for _ in range(4):
        asked.append(mute.asks)
        mute.seconds[0] += 1
    assert asked == [b"I?\r\n"] * 3 + [b""]
    assert named(mute.driver.feed(b"", mute.now)) == [UNKNOWN_SERIAL, "50.0"]
    # The next one waits for a second alone, and a name that comes is believed again.
    mute.press(7)
    assert mute.asks == b"I?\r\n"
    mute.seconds[0] += 1
    assert named(mute.driver.feed(b"", mute.now)) == ["50.0"]
    mute.press(8)
    assert named(mute.hear("I,SH-0417", 0)) == ["SH-0417", "50.0", "SH-0417"]


def test_the_same_comes_of_it_if_nobody_asks_what_is_due_meanwhile() -> None:
    mute = meter(can_be_asked=True)
    mute.press(6)
    # Its name comes a minute later, from whoever is there then.
    assert named(mute.hear("I,SH-0417", 60)) == [UNKNOWN_SERIAL, "50.0", "SH-0417"]


def test_a_reading_whose_line_breaks_before_the_name_comes_is_of_nobody_known() -> None:
    gone = meter(can_be_asked=True)
    gone.press(6)
    assert named(gone.driver.lost(gone.now)) == [UNKNOWN_SERIAL, "50.0"]


def test_garbage_without_end_is_not_kept_behind_a_reading() -> None:
    noisy = meter(can_be_asked=True)
    noisy.press(6)
    facts: list[Fact] = []
    for _ in range(200):
        facts += noisy.driver.feed(b"U" * 512, noisy.now)
    assert named(facts)[:2] == [UNKNOWN_SERIAL, "50.0"]


def test_a_counter_waits_for_no_name_and_is_asked_after_a_leap_or_a_long_silence() -> None:
    counter = Meter(FAMILY.driver(profile("counter-strokes"), "p"), [100])
    counter.driver.opening(counter.now)
    counter.hear("I,HB-0042", 1)
    assert kinds(counter.hear("S0005")) == ["Reading"]
    assert counter.asks == b""
    for body, after_s in (("S0009", 1), ("S0010", 31)):
        assert kinds(counter.hear(body, after_s))[-1] == "Reading"
        assert counter.asks == b"I?\r\n"
        counter.hear("I,HB-0042", 0)


def test_a_stream_waits_for_the_name_with_the_peak_of_its_pull_and_what_is_behind_it() -> None:
    table = dict(profile("force-stream"))
    made = Meter(FAMILY.driver(table, "p"), [100])
    guard = Guard("line", made.now, Quantity.FORCE)
    made.driver.opening(made.now)

    def fed(data: bytes) -> list[str]:
        facts = guard.facts(made.driver.feed(data, made.now), data, made.now)
        return [type(fact).__name__ for fact in facts]

    fed(b"#SN PG-0032\r\n")
    pull = [b"+00.000 N\r\n"] + [b"+01.250 N\r\n"] * 5 + [b"+00.000 N\r\n"] * 300
    assert fed(b"".join(pull)) == ["Samples"]
    assert made.asks == b"#SN?\r\n"
    assert fed(b"+00.001 N\r\n" * 50) == []
    assert fed(b"#SN PG-0032\r\n+00.000 N\r\n") == ["Reading", "Samples", "Samples"]


def test_presses_between_two_slow_asks_are_no_leap() -> None:
    table = dict(profile("gloss-asked"))
    table["ask"] = {"command": "?\r", "every_s": 60}
    del table["identify"]
    driver = FAMILY.driver(table, "p")
    driver.opening(Instant(0, 0))
    told: list[list[str]] = []
    for second, count in ((60, 1), (120, 2), (180, 2 + 61), (240, 63 + 65)):
        at = Instant(second * SECOND, second * SECOND)
        driver.due(at)
        told.append(kinds(driver.feed(f"{count} 60   88,3 GU\r".encode(), at)))
    assert told[1:] == [["Reading"], ["trouble", "Reading"], ["power-up", "trouble", "Reading"]]


def test_a_trouble_that_bears_a_count_leaps_as_a_reading_does() -> None:
    gone = meter(can_be_asked=False)
    assert kinds(gone.hear("E,0206,LAMP"))[0] == NoticeKind.POWER_UP.value
    assert isinstance(gone.press(207)[0], Reading)


def test_a_bit_of_the_count_that_nobody_has_seen_ends_what_was_passed_once() -> None:
    held = meter(can_be_asked=False, proven_count=15)
    heard = {count: held.press(count) for count in range(6, 70)}
    ended = [count for count, facts in heard.items() if "power-up" in kinds(facts)]
    assert ended == [16, 32, 64]
    told = [fact.text for fact in heard[16] if isinstance(fact, Notice)]
    assert any("a bit that no press had" in text and "proven_count" in text for text in told)
    assert not any("a bit" in f.text for f in heard[17] if isinstance(f, Notice))
    # Missed presses reach over it as well; a bit that was seen is one of the count.
    held = meter(can_be_asked=False, proven_count=15)
    held.press(14)
    assert "power-up" in kinds(held.press(17))
    assert "power-up" not in kinds(held.press(18))


def flags(facts: list[Fact]) -> list[tuple[str, list[str]]]:
    return [(fact.text, sorted(fact.flags)) for fact in facts if isinstance(fact, Reading)]


def test_of_a_reading_whose_name_comes_at_the_second_question_nobody_is_sure() -> None:
    late = meter(can_be_asked=True)
    late.press(6)
    assert late.asks == b"I?\r\n"
    late.seconds[0] += 1
    assert late.asks == b"I?\r\n"
    # The meter is the one that was checked, so nothing ends; it may not be the one that was read.
    facts = late.hear("I,SH-0417", 1)
    assert flags(facts) == [("50.0", ["not sure whose"])]
    assert "identity" not in kinds(facts)
    late.press(7)
    assert flags(late.hear("I,SH-0417", 1)) == [("50.0", [])]


def test_the_channels_of_one_press_are_all_of_the_meter_or_none_is() -> None:
    late = meter(can_be_asked=True)
    late.press(6)
    late.hear("R,0006,60,81.5,GU", 1)
    late.hear("R,0007,20,50.1,GU", 0)
    unsure = ["not sure whose"]
    assert flags(late.hear("I,SH-0417", 1)) == [("50.0", unsure), ("81.5", unsure), ("50.1", [])]


def test_whoever_is_switched_on_after_a_reading_did_not_give_it() -> None:
    other = meter(can_be_asked=True)
    other.press(6)
    assert flags(other.hear("B,SH-0417,1.4", 0)) == [("50.0", ["not sure whose"])]
    # So it is where only the count tells it.
    other = meter(can_be_asked=True)
    other.press(6)
    other.press(3, after_s=0)
    facts = other.hear("I,SH-0417", 0)
    assert flags(facts) == [("50.0", ["not sure whose"]), ("50.0", [])]
    assert kinds(facts) == ["Reading", "power-up", "Reading"]


def test_a_press_that_is_whole_only_at_a_silence_has_the_time_of_an_answer_from_then_on() -> None:
    table = dict(profile("gloss-press"))
    table["text"] = {**table["text"], "together_s": 1.5}
    for message in table["message"]:
        if message["means"] == "reading":
            message["in_press"] = [1]
    made = Meter(FAMILY.driver(table, "p"), [100])
    made.driver.opening(made.now)
    for count in (5, 6):
        assert made.press(count) == []
        made.seconds[0] += 2
        assert made.driver.feed(b"", made.now) == []
        assert made.asks == b"I?\r\n"
        assert made.hear("I,SH-0417", 0) == []
        made.seconds[0] += 2
        facts = made.driver.feed(b"", made.now)
        assert flags(facts) == [("50.0", [])]


def stream() -> Meter:
    made = Meter(FAMILY.driver(profile("force-stream"), "p"), [100])
    made.driver.opening(made.now)
    made.driver.feed(b"#SN PG-0032\r\n" + b"+00.000 N\r\n" * 50, made.now)
    return made


PULLING, AT_REST = b"+01.250 N\r\n" * 1000, b"+00.000 N\r\n" * 400


def test_a_pull_is_asked_about_as_it_begins_and_as_it_ends() -> None:
    pulled = stream()
    pulled.driver.feed(PULLING, pulled.now)
    assert pulled.asks == b"#SN?\r\n"
    pulled.driver.feed(b"#SN PG-0032\r\n", pulled.now)
    assert pulled.asks == b""
    for _ in range(3):
        pulled.seconds[0] += 1
        pulled.driver.feed(PULLING, pulled.now)
    pulled.driver.feed(AT_REST, pulled.now)
    assert pulled.asks == b"#SN?\r\n"
    assert flags(pulled.driver.feed(b"#SN PG-0032\r\n", pulled.now)) == [("1.250", [])]


def test_what_was_asked_may_come_back_between_samples_and_within_one_the_pull_is_none() -> None:
    def read(begin: bytes, end: bytes) -> list[Fact]:
        pulled = stream()
        pulled.driver.feed(PULLING, pulled.now)
        assert pulled.asks == b"#SN?\r\n"
        facts = pulled.driver.feed(begin + b"#SN PG-0032\r\n" + PULLING, pulled.now)
        facts += pulled.driver.feed(AT_REST, pulled.now)
        assert (pulled.asks != b"") == (end != b""), "the name of no pull is asked"
        return facts + pulled.driver.feed(end + b"#SN PG-0032\r\n", pulled.now)

    facts = read(b"#SN?\r\n", b"#SN?\r\n")
    assert flags(facts) == [("1.250", [])]
    # Where both sent at once a byte of the sample may be gone, and nobody could tell which.
    facts = read(b"+01.2#SN?\r\n50 N\r\n", b"")
    assert flags(facts) == []
    said = [fact.reason for fact in facts if isinstance(fact, Noise)]
    assert "came back in the midst of a sample, so the pull is none: switch off" in said[0]
    assert "echo" not in said[1]


def test_a_pull_that_began_with_another_gauge_is_none_of_the_one_it_ends_with() -> None:
    pulled = stream()
    pulled.driver.feed(PULLING, pulled.now)
    assert "identity" in kinds(pulled.driver.feed(b"#SN PG-0099\r\n", pulled.now))
    pulled.seconds[0] += 1
    facts = pulled.driver.feed(AT_REST + b"#SN PG-0032\r\n", pulled.now)
    assert flags(facts) == []
    # One that told no name as it began.
    pulled = stream()
    pulled.driver.feed(PULLING, pulled.now)
    pulled.seconds[0] += 1
    pulled.driver.feed(PULLING, pulled.now)
    pulled.seconds[0] += 1
    pulled.driver.feed(PULLING + AT_REST, pulled.now)
    facts = pulled.driver.feed(b"#SN PG-0032\r\n", pulled.now)
    assert flags(facts) == [("1.250", ["not sure whose"])]


def test_a_pull_in_the_midst_of_which_nothing_came_is_none_but_one_that_came_late_is() -> None:
    def found(late: bytes) -> tuple[list[str], list[str]]:
        pulled = stream()
        for _ in range(3):
            pulled.driver.feed(PULLING, pulled.now)
            pulled.driver.feed(b"#SN PG-0032\r\n", pulled.now)
            pulled.seconds[0] += 1
        pulled.seconds[0] += 1
        facts = pulled.driver.feed(late + AT_REST, pulled.now)
        facts += pulled.driver.feed(b"#SN PG-0032\r\n", pulled.now)
        texts = [fact.text for fact in facts if isinstance(fact, Notice) and not fact.raw]
        return [text for text, _ in flags(facts)], texts

    assert found(b"") == ([], ["nothing came for 2.0 s in the midst of a pull: it is none"])
    assert found(PULLING * 2) == (["1.250"], [])


def test_a_gauge_that_tells_its_name_after_one_in_vain_is_read_from_its_next_pull_on() -> None:
    pulled = stream()
    pulled.driver.feed(PULLING + AT_REST, pulled.now)
    pulled.seconds[0] += 5
    assert UNKNOWN_SERIAL in named(pulled.driver.feed(AT_REST, pulled.now))
    pulled.driver.feed(PULLING, pulled.now)
    assert named(pulled.driver.feed(b"#SN PG-0032\r\n", pulled.now)) == ["PG-0032"]
    pulled.driver.feed(AT_REST, pulled.now)
    assert flags(pulled.driver.feed(b"#SN PG-0032\r\n", pulled.now)) == [("1.250", [])]
