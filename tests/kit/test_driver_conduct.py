"""The rules besides what bytes mean: each driver that breaks one is caught, a sound one is not."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from random import Random
from typing import ClassVar

import pytest

from acquire.driverapi import Driver, Due, LinkNeeds, TypedNeeds
from acquire.driverapi import conduct as kit
from acquire.driverapi.capture import Capture, Expected, Step
from acquire.driverapi.kept import Kept
from acquire.driverapi.spoiling import Spoiler, Spoilt
from acquire.model import Fact, Instant, Noise, Quantity, Reading, Samples

LINE = b"12.5\n"
CAPTURE = Capture(
    "plain",
    (Step(0.0, b"", LINE), Step(1.0, b"", LINE)),
    (Expected("reading", LINE), Expected("reading", LINE)),
)


class Plain:
    """A line is a force; what has no end waits. Subclasses break one thing."""

    unit = "newton"
    rate_hz = Decimal(0)
    polls_s = 0.0
    poll = b"?"

    def __init__(self) -> None:
        self.rest = b""
        self.place = 0
        self.count = 0

    def opening(self, at: Instant) -> bytes:
        return b""

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        lines = (self.rest + data).splitlines(keepends=True)
        self.rest = lines.pop() if lines and not lines[-1].endswith(b"\n") else b""
        facts: list[Fact] = [self.fact(line, at) for line in lines]
        if len(self.rest) > 100:
            facts += self.lost(at)
        return facts

    def fact(self, raw: bytes, at: Instant) -> Fact:
        start, self.place = self.place, self.place + len(raw)
        end, text = self.place, raw.decode("latin-1").strip()
        if raw != LINE:
            return Noise(at, raw, start, end, "no number")
        if self.rate_hz:
            self.count += 1
            return Samples(Quantity.FORCE, "", self.unit, Decimal("0.1"), self.rate_hz,
                           self.count - 1, bytes(4), at, start, end)  # fmt: skip
        return Reading(Quantity.FORCE, "", Decimal(text), self.unit, text, at, raw, start, end)

    def due(self, now: Instant) -> Due:
        if not self.polls_s:
            return Due(b"", None)
        ns = round(self.polls_s * 1e9)
        return Due(self.poll, Instant(now.utc_ns + ns, now.mono_ns + ns))

    def take(self, at: Instant) -> bytes:
        return b""

    def lost(self, at: Instant) -> list[Fact]:
        rest, self.rest = self.rest, b""
        return [self.fact(rest, at)] if rest else []


class SharesItsRest(Plain):
    """Keeps what waits where all drivers keep it."""

    heap: ClassVar[dict[str, bytes]] = {}

    @property
    def rest(self) -> bytes:
        return self.heap.get("rest", b"")

    @rest.setter
    def rest(self, data: bytes) -> None:
        self.heap["rest"] = data


class CountsAllDrivers(Plain):
    """Tells in every text how many readings any driver has given."""

    made: ClassVar[list[int]] = [0]

    def fact(self, raw: bytes, at: Instant) -> Fact:
        fact = super().fact(raw, at)
        self.made[0] += 1
        if isinstance(fact, Noise):
            return Noise(fact.at, fact.raw, fact.start, fact.end, f"no. {self.made[0]}")
        assert isinstance(fact, Reading)
        return Reading(
            fact.quantity, "", fact.value, fact.unit, f"{self.made[0]}", fact.at, fact.raw,
            fact.start, fact.end,
        )  # fmt: skip


class GluesOverTheGap(Plain):
    """Gives nothing when the link is lost, and goes on with what was waiting."""

    def lost(self, at: Instant) -> list[Fact]:
        return []


class TellsTwice(Plain):
    def lost(self, at: Instant) -> list[Fact]:
        super().lost(at)
        return [Noise(at, b"", self.place, self.place, "lost")]


class Leaks(Plain):
    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        self.__dict__.setdefault("heap", []).append(bytes(bytearray(data)))
        return super().feed(data, at)


class InYarn(Plain):
    unit = "Nm"


class InGloss(Plain):
    unit = "gloss_unit"


class Streams(Plain):
    rate_hz = Decimal(1000)


class StreamsSlowly(Plain):
    rate_hz = Decimal("0.5")


class Polls(Plain):
    polls_s = 0.01
    poll = b"?" * 20


class PollsOnceHeard(Polls):
    """Silent until a byte came, from then on a flood."""

    @property
    def polls_s(self) -> float:  # type: ignore[override]
        return 0.01 if self.place or self.rest else 0.0


class AsksForThePast(Plain):
    """Once a line came it wants to be asked before it came."""

    def due(self, now: Instant) -> Due:
        return Due(b"", Instant(now.utc_ns, now.mono_ns - 1) if self.place else None)


def spoiler() -> Spoiler:
    return Spoiler([CAPTURE.steps], Random(1), is_records=False)


def drivers(kind: type[Plain]) -> Callable[[], Driver]:
    return kind


@pytest.mark.parametrize("kind", [SharesItsRest, CountsAllDrivers])
def test_what_drivers_share_is_found(kind: type[Plain]) -> None:
    (said,) = kit.apart(drivers(kind), spoiler())
    assert "other facts" in said or "which is not what came" in said or "a fact from" in said


def test_one_driver_for_two_connections_is_found() -> None:
    one = Plain()
    assert list(kit.apart(lambda: one, spoiler())) == [
        "the same driver is given for two connections"
    ]


def test_what_a_lost_link_leaves_behind_is_found() -> None:
    (said,) = kit.lost(drivers(GluesOverTheGap), [CAPTURE])
    assert "glued together" in said
    (said,) = kit.lost(drivers(TellsTwice), [CAPTURE])
    assert "1 facts come when it is lost a second time" in said


def test_a_unit_that_nobody_knows_is_found_and_so_is_one_of_another_quantity() -> None:
    (said,) = kit.units(drivers(InYarn), [CAPTURE])
    assert "'Nm' of force, which is none of newton" in said
    (said,) = kit.units(drivers(InGloss), [CAPTURE])
    assert "'gloss_unit' of force" in said


def test_memory_that_grows_with_the_bytes_is_found() -> None:
    found = list(kit.memory(drivers(Leaks), [CAPTURE], 1, is_records=False))
    assert len(found) == 3
    assert "an endless line of digits" in found[2]


def test_memory_that_grows_with_what_never_came_before_is_found() -> None:
    seen: dict[bytes, int] = {}

    class Remembers(Plain):
        def feed(self, data: bytes, at: Instant) -> list[Fact]:
            seen[data] = len(data)
            return super().feed(data, at)

    (said,) = kit.memory(drivers(Remembers), [CAPTURE], 1, is_records=False)
    assert "of random bytes" in said


def test_memory_that_fills_up_to_a_bound_is_none_that_grows() -> None:
    kept: dict[int, bytes] = {}

    class FillsUp(Plain):
        def feed(self, data: bytes, at: Instant) -> list[Fact]:
            kept[len(kept) % 500] = data * 2
            return super().feed(data, at)

    assert list(kit.memory(drivers(FillsUp), [CAPTURE], 1, is_records=False)) == []
    assert len(kept) == 500


def test_a_declared_rate_that_the_declared_line_does_not_carry_is_found() -> None:
    (said,) = kit.rates(drivers(Streams), [CAPTURE], LinkNeeds(baud_rate=19_200))
    assert said == (
        "plain: 1000 samples a second of 5.0 bytes on a line that is declared to carry "
        "1920 bytes a second"
    )
    assert list(kit.rates(drivers(Streams), [CAPTURE], LinkNeeds(baud_rate=115_200))) == []


def test_more_samples_than_the_declared_rate_has_are_found() -> None:
    fast = Capture("fast", tuple(Step(0.1, b"", LINE) for _ in range(40)), ())
    (said,) = kit.rates(drivers(StreamsSlowly), [fast], TypedNeeds())
    assert "samples in" in said
    assert "declared are 0.5 a second" in said


def test_more_questions_than_the_line_carries_are_found() -> None:
    (said,) = kit.rates(drivers(Polls), [], LinkNeeds(baud_rate=4800))
    assert said == "2000 bytes a second are sent on a line that is declared to carry 480"
    assert list(kit.rates(drivers(Polls), [], LinkNeeds(baud_rate=115_200))) == []


def test_a_line_that_is_declared_at_the_usual_speed_is_held_to_it() -> None:
    (said,) = kit.rates(drivers(Polls), [], LinkNeeds(baud_rate=9600))
    assert said == "2000 bytes a second are sent on a line that is declared to carry 960"
    (said,) = kit.rates(drivers(Streams), [CAPTURE], LinkNeeds(baud_rate=9600))
    assert said.endswith("on a line that is declared to carry 960 bytes a second")
    assert list(kit.rates(drivers(Polls), [], LinkNeeds())) == [], "nobody declared what it carries"


def test_a_flood_of_questions_is_found_that_begins_when_the_device_has_spoken() -> None:
    (said,) = kit.rates(drivers(PollsOnceHeard), [], LinkNeeds(baud_rate=4800))
    assert said.startswith("after one byte: 2000 bytes a second are sent")


class Impatient(Plain):
    """Asks each second, and at once where an answer was not alone."""

    def __init__(self) -> None:
        super().__init__()
        self.at: Instant | None = None
        self.number = 0

    def due(self, now: Instant) -> Due:
        if self.at is None or now.mono_ns >= self.at.mono_ns:
            self.at = Instant(now.utc_ns + 10**9, now.mono_ns + 10**9)
            self.number = self.number % 9 + 1
            return Due(b"%d?" % self.number, self.at)
        return Due(b"", self.at)

    def feed(self, data: bytes, at: Instant) -> list[Fact]:
        if data.count(b"\n") > 1 or (data and data[:1] != b"%d" % self.number):
            self.at = None
        return super().feed(data, at)


@pytest.mark.parametrize("numbers", [b"111", b"123"])
def test_a_flood_of_questions_is_found_that_begins_when_answers_come_twice(numbers: bytes) -> None:
    steps = [Step(1.0, b"%c?" % number, b"%c2.5\n" % number) for number in numbers]
    (wrong,) = kit.asking(Impatient, [Capture("asked", tuple(steps), ())])
    asks = "it asks more than 200 times in 10 s, and 10 times else"
    assert wrong == f"asked: where each answer comes twice {asks}"


def test_a_flood_of_questions_is_found_that_begins_when_another_answers() -> None:
    class Deaf(Impatient):
        """Does not mind doubled answers."""

        def feed(self, data: bytes, at: Instant) -> list[Fact]:
            return super().feed(data[: data.find(b"\n") + 1], at)

    steps = (Step(1.0, b"1?", b"02.5\n"), Step(1.0, b"2?", b"22.5\n"))
    (wrong,) = kit.asking(Deaf, [Capture("asked", steps, ())])
    assert "where a stray answer comes before each it asks more than" in wrong


def test_asking_for_the_past_is_found_that_begins_when_a_reading_came() -> None:
    assert list(kit.asking(drivers(AsksForThePast), [])) == []
    (said,) = kit.asking(drivers(AsksForThePast), [CAPTURE])
    assert said == "after plain: wants to be asked in the past"


def test_a_plain_driver_keeps_them_all() -> None:
    make = drivers(Plain)
    assert list(kit.apart(make, spoiler())) == []
    assert list(kit.lost(make, [CAPTURE])) == []
    assert list(kit.units(make, [CAPTURE])) == []
    assert list(kit.rates(make, [CAPTURE], LinkNeeds())) == []
    assert list(kit.asking(make, [CAPTURE])) == []
    assert list(kit.memory(make, [CAPTURE], 1, is_records=False)) == []


def test_spoiled_bytes_are_the_same_for_the_same_seed_and_lightly_spoiled_ones_keep_their_length(
) -> None:  # fmt: skip
    def drawn(spoilt: Spoilt, seed: int) -> list[bytes]:
        found = Spoiler([CAPTURE.steps], Random(seed), is_records=False)
        return [chunk.data for chunk in found.chunks(spoilt, 1000)]

    for spoilt in Spoilt:
        assert drawn(spoilt, 1) == drawn(spoilt, 1)
        assert drawn(spoilt, 1) != drawn(spoilt, 2)
    light = b"".join(drawn(Spoilt.LIGHT, 1))
    assert len(light) % len(LINE) == 0
    lines = [light[i : i + len(LINE)] for i in range(0, len(light), len(LINE))]
    assert max(sum(a != b for a, b in zip(line, LINE, strict=True)) for line in lines) == 1


class Last(Plain):
    """Of a family whose drivers keep their last unit where all of them find it."""

    units: ClassVar[list[str]] = []


def test_what_is_kept_outside_of_drivers_is_found_whatever_the_bytes_show() -> None:
    kept = Kept(Last)
    assert list(kept.changed()) == []
    Last.units.append("newton")
    (said,) = kept.changed()
    assert "Last.units is shared by all drivers and is changed by them: it was '[]'" in said
    Last.units.clear()


class Keeping:
    """A family in which drivers keep what they were told, by one of several ways."""

    name, api, unit = "keeping", 1, "newton"

    def __init__(self) -> None:
        self.told: dict[str, list[str]] = {"units": []}
        self.table: dict[str, int] | None = None


def counted(key: str, seen: dict[str, int] = {}, *, last: list[str] = []) -> int:  # noqa: B006
    """Keeps its calls in default arguments."""
    last[:] = [key]
    seen[key] = seen.get(key, 0) + 1
    return seen[key]


def _counter() -> Callable[[], int]:
    calls = 0

    def count() -> int:
        nonlocal calls
        calls += 1
        return calls

    return count


closed = _counter()


def test_what_a_family_keeps_of_a_conversation_is_found_however_deep() -> None:
    def deep(family: Keeping) -> None:
        family.told["units"].append("gram_force")

    def own(family: Keeping) -> None:
        family.unit = "gram_force"

    for keep, what in ((deep, "the family's told"), (own, "the family's unit")):
        family = Keeping()
        kept = Kept(family)
        assert list(kept.changed()) == []
        keep(family)
        assert any(f"{what} is shared by all drivers" in said for said in kept.changed())


def test_what_a_family_made_once_of_its_profile_is_no_sharing() -> None:
    family = Keeping()
    kept = Kept(family)
    family.told["lines"] = ["of the profile"]
    kept.made()
    family.table = {"N": 1}
    kept.look()
    assert list(kept.changed()) == []
    family.table = {"N": 2}
    (said,) = kept.changed()
    assert "the family's table is shared by all drivers" in said


def test_what_default_arguments_and_closures_keep_is_found() -> None:
    kept = Kept(Keeping)
    assert list(kept.changed()) == []
    counted("N")
    closed()
    told = [said.partition(" is shared by all drivers")[0] for said in kept.changed()]
    assert told == [
        f"the default of seen in {__name__}.counted",
        f"the default of last in {__name__}.counted",
        f"calls around {__name__}.closed",
    ]


class Recounting(Plain):
    """Counts places from 0 on after `lost`."""

    def lost(self, at: Instant) -> list[Fact]:
        facts = super().lost(at)
        self.place = 0
        return facts


def test_a_driver_that_counts_places_anew_after_lost_is_told_that_they_go_on() -> None:
    (said,) = kit.lost(Recounting, [CAPTURE])
    assert "places are counted from the opening of the connection and go on after lost" in said
    assert list(kit.lost(Plain, [CAPTURE])) == []
