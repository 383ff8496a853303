"""What no press has shown is noise in the profile, and is told in words with how it is taught."""

from __future__ import annotations

import struct
import tomllib
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Line, Outcome, Press, learn
from acquire.learn.frames.frames import frames as learned_frames
from acquire.learn.numbers.held import held, runs
from acquire.learn.numbers.number import NumberAt
from acquire.learn.profile.proved import readings, unclaimed
from acquire.learn.profile.written import frame_profile
from acquire.model import NoticeKind, Quantity
from tests.learning.trap import Bench
from tests.unit.learn.test_person import Bench as Terminal
from tests.unit.learn.test_person import lesson

GLOSS = About(Quantity.GLOSS, channel="60", settled=9)
FORCE = About(Quantity.FORCE, unit="newton")
REGISTRY = Registry()


def frames(*pairs: tuple[str, int], form: str = ">h", about: About = GLOSS) -> Finding:
    """Learned from frames of a byte and a number in tenths."""
    made = [
        Press(
            bytes([0xA5, byte]) + struct.pack(form, int(Decimal(shown) * 10)) + b"\x0d",
            Decimal(shown),
        )
        for shown, byte in pairs
    ]
    return learn(made, about, REGISTRY)


def lines(form: str, *shown: str, about: About = GLOSS) -> Finding:
    made = [
        Press(f"{form.format(value, n=n)}\r\n".encode(), Decimal(value))
        for n, value in enumerate(shown, 22)
    ]
    return learn(made, about, REGISTRY)


def given(found: Finding, *data: bytes) -> list[list[str]]:
    assert found.outcome is Outcome.SURE, found.believed
    read = readings(found.family, found.profile, data, REGISTRY)
    return [[str(reading.value) for reading in here] for here in read]


def value_of(found: Finding) -> dict[str, Any]:
    profile = tomllib.loads(found.profile, parse_float=Decimal)
    table: dict[str, Any] = profile.get("value") or profile["message"][0]["value"][0]
    return table


def test_a_profile_says_what_the_display_can_show() -> None:
    table = value_of(frames(("91.4", 0), ("45.2", 0), ("12.0", 0)))
    assert (table["least"], table["most"], table["most_decimals"]) == (0, Decimal("102.2"), 1)
    table = value_of(lines("{0} GU", "91.4", "45.2", "12.0"))
    assert (table["least"], table["most"], table["most_decimals"]) == (-20, Decimal("199.9"), 1)


def test_what_a_person_says_of_the_display_is_its_limit() -> None:
    said = About(Quantity.GLOSS, channel="60", least=Decimal(0), most=Decimal(2000))
    table = value_of(frames(("91.4", 0), ("45.2", 0), ("12.0", 0), about=said))
    assert (table["least"], table["most"]) == (0, 2000)


def test_below_zero_is_noise_until_a_press_has_shown_it() -> None:
    minus = b"\xa5\x00" + struct.pack(">h", -5) + b"\x0d"
    found = frames(("91.4", 0), ("45.2", 0), ("12.0", 0))
    assert given(found, minus) == [[]]
    assert found.tell_below == Decimal("-0.1")
    assert any("below zero" in words and "--least 0" in words for words in found.unseen)
    found = frames(("91.4", 0), ("45.2", 0), ("12.0", 0), ("-2.0", 0))
    assert given(found, minus) == [["-0.5"]]
    assert not any("below zero" in words for words in found.unseen)


def test_a_force_far_above_what_was_shown_is_noise_until_it_is_said() -> None:
    far = b"\xa5\x00" + struct.pack(">h", 16785) + b"\x0d"
    found = frames(("40.1", 0), ("45.2", 0), ("12.0", 0), about=FORCE)
    assert given(found, far) == [[]]
    assert found.tell_above == Decimal("51.1")
    assert any("--most" in words for words in found.unseen)
    said = About(Quantity.FORCE, unit="newton", most=Decimal(2000))
    assert given(frames(("40.1", 0), ("45.2", 0), ("12.0", 0), about=said), far) == [["1678.5"]]


@pytest.mark.parametrize("bit", [0x04, 0x10, 0x80])
def test_a_bit_that_never_changed_is_held_beside_those_that_did(bit: int) -> None:
    found = frames(("91.4", 0x40), ("45.2", 0x43), ("12.0", 0x40))
    assert found.is_state_open
    good, other = (bytes([0xA5, b]) + b"\x01\xc4\x0d" for b in (0x43, 0x40 ^ bit))
    assert given(found, good, other) == [["45.2"], []]


SHOWN = ("91.4", "45.2", "12.0", "33.3")


def sent(count: int, *, high: int = 0, order: str = "big", value: int = 452) -> bytes:
    """A frame with a byte beside its count."""
    pair = (high, count) if order == "big" else (count, high)
    return b"\x02\xa5" + bytes(pair) + struct.pack(">h", value) + b"\x0d"


def counted(counts: tuple[int, ...], *, order: str = "big") -> Finding:
    """Learned from frames that bear these counts beside a byte that goes on with them."""
    made = []
    for value, count in zip(SHOWN, counts, strict=False):
        data = sent(count & 0xFF, high=count >> 8, order=order, value=int(Decimal(value) * 10))
        made.append(Press(data, Decimal(value)))
    return learn(made, GLOSS, REGISTRY)


def used(found: Finding, *data: bytes) -> list[tuple[list[str], bool]]:
    """What each press of one connection is read as, and whether the check still holds then."""
    assert found.outcome is Outcome.SURE, found.believed
    bench = Bench(REGISTRY.family(found.family).driver(tomllib.loads(found.profile), "learned"))
    told = []
    for number, one in enumerate(data):
        values = bench.press(one, is_check=not number or not bench.is_checked)
        told.append(([str(value) for value in values], NoticeKind.POWER_UP not in bench.told))
    return told


@pytest.mark.parametrize(
    ("counts", "proven", "is_open"),
    [((1, 2, 3), 0x03, True), ((1, 2, 3, 4), 0x07, False), ((33, 34, 35), 0x3F, False),
     ((126, 127, 128), None, False), ((14, 15, 16), 0x1F, False), ((33, 34, 35, 90), 0x7F, False)],
)  # fmt: skip
def test_a_count_goes_on_to_its_end_and_a_bit_that_may_be_a_flag_ends_the_check(
    counts: tuple[int, ...], proven: int | None, is_open: bool
) -> None:
    found = frames(*zip(SHOWN, counts, strict=False))
    assert found.is_state_open == is_open
    # A byte that is no 0 stands beside it, and the number on its other side.
    assert any("byte 1 counts presses and is used as their count" in b for b in found.believed)
    told = used(found, *(bytes([0xA5, n & 0xFF]) + b"\x01\xc4\x0d" for n in range(1, 258)))
    assert all(values == ["45.2"] for values, _ in told)
    ended = [count for count, (_, holds) in enumerate(told, 1) if not holds]
    bits = [1 << bit for bit in range(8) if proven is not None and 1 << bit > proven]
    assert ended == [*bits, 256]


@pytest.mark.parametrize("order", ["big", "little"])
def test_a_count_goes_on_in_the_byte_of_zeros_beside_it(order: str) -> None:
    found = counted((33, 34, 35), order=order)
    count = tomllib.loads(found.profile)["message"][0]["count"]
    assert count == {"offset": 2, "type": "uint16", "order": order}
    assert tomllib.loads(found.profile)["frame"]["start"] == "02 A5"
    counts = (254, 255, 256, 257, 5000, 65535)
    data = [sent(n & 0xFF, high=n >> 8, order=order) for n in counts]
    told = used(found, *data)
    assert [values for values, _ in told] == [["45.2"]] * len(counts)
    assert [holds for _, holds in told] == [True, True, False, True, False, False]


def test_a_flag_in_a_byte_that_counts_is_a_leap_and_never_counts() -> None:
    for found, flagged in (
        (counted((33, 34, 35)), [sent(37 | 0x80), sent(37, high=1), sent(37, high=0x80)]),
        (frames(*zip(SHOWN, (33, 34, 35), strict=False)), [b"\xa5\xa5\x01\xc4\x0d"]),
    ):
        check = sent(36) if len(flagged) > 1 else b"\xa5\x24\x01\xc4\x0d"
        for one in flagged:
            values, holds = used(found, check, one)[1]
            assert not (values and holds), one.hex()


def test_a_state_in_the_byte_of_zeros_beside_the_count_makes_presses_noise() -> None:
    found = counted((33, 34, 35))
    assert "\ncarried_above = 255\n" in found.profile
    assert any("byte 2 beside the count at anything but 0" in one for one in found.unseen)
    # From the first press on, between others, and though it stays.
    for before in ([], [sent(36)]):
        told = used(found, *before, sent(37, high=1), sent(38, high=1), sent(39), sent(40))
        values = [values for values, _ in told[len(before) :]]
        assert values == [[], [], ["45.2"], ["45.2"]]


def test_a_count_whose_leap_does_not_end_the_check_is_found_out() -> None:
    made = [
        Press(sent(n, value=int(Decimal(v) * 10)), Decimal(v))
        for v, n in zip(SHOWN, (33, 34, 35, 36), strict=True)
    ]
    layout = learned_frames(made, GLOSS)
    assert not isinstance(layout, str)
    assert layout.frame is not None
    text = frame_profile(layout.frame, replace(GLOSS, unit="gloss_unit"), remarks=())
    assert unclaimed(layout.frame, text, REGISTRY) == []
    count = 'count = { offset = 2, type = "uint16", order = "big" }\n'
    assert text.count(count) == 1
    spoiled = text.replace(count, "").split("# The count after which")[0]
    over = unclaimed(layout.frame, spoiled, REGISTRY)
    assert any("does not end the check" in words for words in over)


def test_a_carry_that_was_shown_makes_a_count_of_two_bytes() -> None:
    found = counted((0x12FE, 0x12FF, 0x1300, 0x1301))
    assert tomllib.loads(found.profile)["message"][0]["count"]["type"] == "uint16"
    told = used(found, *(sent(n & 0xFF, high=n >> 8) for n in (0x13FF, 0x1400, 0x1401)))
    assert [holds for _, holds in told] == [True, True, True]


def test_a_press_of_much_later_leaves_a_count_what_it_was() -> None:
    for later, kind in ((300, "uint16"), (0x0104, "uint8")):
        found = counted((1, 2, 3, later))
        assert tomllib.loads(found.profile)["message"][0]["count"]["type"] == kind


def test_a_byte_that_starts_again_beside_zeros_is_a_count_of_its_own() -> None:
    shown = zip(SHOWN, (254, 255, 0, 1), strict=True)
    made = [Press(sent(n, value=int(Decimal(v) * 10)), Decimal(v)) for v, n in shown]
    found = learn(made, GLOSS, REGISTRY)
    assert tomllib.loads(found.profile)["message"][0]["count"] == {"offset": 3, "type": "uint8"}


def test_the_first_byte_of_a_frame_is_kept_to_begin_with() -> None:
    made = [
        Press(bytes([0, n]) + struct.pack(">h", int(Decimal(v) * 10)) + b"\x0d", Decimal(v))
        for v, n in zip(SHOWN[:3], (33, 34, 35), strict=True)
    ]
    profile = tomllib.loads(learn(made, GLOSS, REGISTRY).profile)
    assert profile["frame"]["start"] == "00"
    assert profile["message"][0]["count"] == {"offset": 1, "type": "uint8"}


def test_a_count_of_four_bits_that_starts_again_frees_no_other_bit() -> None:
    frame = [bytes([count, 0, 9]) for count in (0x4E, 0x4F, 0x40)]
    kept = held(frame, NumberAt(2, 1, "uint8"), frozenset(), Decimal(9), signed=False)
    assert kept.masks[:2] == (0xF0, 0xFF)
    assert kept.counters == (0,)
    assert kept.counted is None


def test_conditions_reach_over_free_bytes_but_over_no_checksum() -> None:
    masks = [0xFF, 0, 0x80, 0, 0, 0xFF, 0, 0, 0, 0, 0xFF]
    example = bytes(range(0x80, 0x8B))
    found = [
        (run.place, run.mask.hex(), run.bits.hex())
        for run in runs(masks, example, 0, 11, frozenset((4,)))
    ]
    assert found == [(0, "ff0080", "800080"), (5, "ff00000000ff", "85000000008a")]


def test_a_profile_that_reads_more_than_it_claims_is_found_out() -> None:
    made = [
        Press(
            bytes([0xA5, 0x40, n]) + struct.pack(">h", int(Decimal(v) * 10)) + b"\x0d", Decimal(v)
        )
        for v, n in (("91.4", 7), ("45.2", 90), ("12.0", 33))
    ]
    layout = learned_frames(made, GLOSS)
    assert not isinstance(layout, str)
    assert layout.frame is not None
    said = replace(GLOSS, unit="gloss_unit")
    text = frame_profile(layout.frame, said, remarks=())
    assert unclaimed(layout.frame, text, REGISTRY) == []
    for spoiled in ("least = 0", "most = 102.2", '{ offset = 2, mask = "80", is = "00" },'):
        assert text.count(spoiled) == 1
        assert unclaimed(layout.frame, text.replace(spoiled, ""), REGISTRY), spoiled


def test_a_last_digit_that_is_always_0_is_none_of_the_number() -> None:
    made = [
        Press(f"\x02{int(Decimal(v) * 10):06d}0\r".encode(), Decimal(v))
        for v in ("91.4", "45.2", "12.0")
    ]
    found = learn(made, GLOSS, REGISTRY)
    assert given(found, b"\x020009140\r", b"\x020009145\r") == [["91.4"], []]


def test_a_slow_temperature_is_no_count() -> None:
    """Three that go up by one may be a count: that is asked, and a fourth press tells."""
    found = lines("T {n} V {0} GU", "91.4", "45.2", "12.0")
    assert found.is_state_open
    assert any("one more press shows which" in words for words in found.unseen)
    made = [
        Press(f"T {t} V {v} GU\r\n".encode(), Decimal(v))
        for t, v in zip((22, 23, 24, 24), ("91.4", "45.2", "12.0", "7.0"), strict=True)
    ]
    found = learn(made, GLOSS, REGISTRY)
    assert not found.is_state_open
    data = [f"T {t} V {v} GU\r\n".encode() for t, v in ((24, 50), (24, 60), (23, 70))]
    pattern = tomllib.loads(found.profile)["message"][0]["pattern"]
    assert "(?P<count>" not in pattern
    assert given(found, *(one.replace(b" GU", b".1 GU") for one in data)) == [
        ["50.1"], ["60.1"], ["70.1"],
    ]  # fmt: skip


def test_of_few_numbers_in_a_line_only_those_are_read() -> None:
    made = [
        Press(f"{value},{status}\r\n".encode(), Decimal(value))
        for value, status in zip(("91.4", "45.2", "12.0"), (0, 0, 4), strict=True)
    ]
    found = learn(made, GLOSS, REGISTRY)
    assert given(found, b"33.3,4\r\n", b"33.3,8\r\n", b"33.3,128\r\n") == [["33.3"], [], []]
    assert any("other ones of the few numbers" in words for words in found.unseen)


def test_a_line_too_long_for_a_profile_is_refused_in_words() -> None:
    made = [Press((f"{v} " * 400 + "\r\n").encode(), Decimal(v)) for v in ("91.4", "45.2", "12.0")]
    found = learn(made, GLOSS, REGISTRY)
    assert found.outcome is Outcome.NONE
    assert any("longer than 256 bytes" in words for words in found.believed)


def test_a_long_heading_does_not_hide_the_line_of_the_number() -> None:
    found = lines("=" * 400 + "\r\n{0} GU", "91.4", "45.2", "12.0")
    assert found.outcome is Outcome.MORE
    assert "longer than 256 bytes" in found.believed[0]
    assert found.left == ("the number of '91.4 GU' before ' GU'",)


WHOLE = ("91", "45", "12")


@pytest.mark.parametrize("kind", ["gloss", "force", "transmittance"])
@pytest.mark.parametrize("form", ["{0}\r\n", '{{"ok":1,"value":{0}}}\r\n', "V {0};OK\r\n"])
def test_minus_one_beside_whole_numbers_may_be_a_press_that_failed_and_is_none_unless_shown(
    form: str, kind: str
) -> None:
    units = {"gloss": "gloss_unit", "force": "newton", "transmittance": "percent"}
    channels = {"gloss": "60", "force": None, "transmittance": "315-400"}
    about = About(Quantity(kind), unit=units[kind], channel=channels[kind], settled=9)

    def taught_by(about: About, *shown: str) -> Finding:
        return learn([Press(form.format(v).encode(), Decimal(v)) for v in shown], about, REGISTRY)

    minus = form.format("-1").encode()
    found = taught_by(about, *WHOLE)
    assert given(found, minus) == [[]]
    assert (found.tell_below, found.is_sign_open) == (-1, True)
    assert any("below zero: such presses are noise" in words for words in found.unseen)
    said = replace(about, least=Decimal(-5))
    for more in (taught_by(about, *WHOLE, "-3"), taught_by(said, *WHOLE)):
        assert given(more, minus) == [["-1"]]
        assert not any("below zero: such presses are noise" in words for words in more.unseen)


def test_at_the_terminal_it_is_asked_how_far_down_whole_numbers_go() -> None:
    sent = [f"V {v};OK\r\n".encode() for v in WHOLE]
    given_ = Given(Quantity.GLOSS, channel="60", line=Line(9600))
    bench = Terminal(sent, [*WHOLE, "0"], Line(9600))
    found, about = lesson(bench, given_).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert about.least == 0
    assert any("Can the display go down to -1?" in one for one in bench.asked)


def test_a_number_with_decimals_below_zero_is_read_as_the_others_are_written() -> None:
    about = About(Quantity.GLOSS, unit="gloss_unit", channel="60")
    shown = ("91.4", "45.2", "12.0")
    found = learn([Press(f"{v}\r\n".encode(), Decimal(v)) for v in shown], about, REGISTRY)
    assert given(found, b"-1\r\n", b"-1.2\r\n") == [[], ["-1.2"]]
