"""Binary frames cut from a stream, whatever happens to it."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.model import Instant
from acquire.wire import BlockFramer, Form, Frame, LengthField, Order, Proof, Sent, Shape
from acquire.wire.blocks import PIECE_BYTES

START = Instant(10**18, 10**12)

MARKED = Shape(b"\xaa\x55", frozenset([6]), proof=Proof("sum8", 0, -2, -1, "big"))
TOLD = Shape(
    b"\x02",
    frozenset([5, 6, 40]),
    LengthField(1, 1, "big", 3),
    b"\x03",
    Proof("xor8", 0, -3, -2, "big"),
)
ENDED = Shape(b"\x02", frozenset([4]), end=b"\x03")
UNPROVEN = Shape(b"\x02", frozenset([4]))
UNMARKED = Shape(b"", frozenset([4]), proof=Proof("sum8", 0, 2, 3, "big"))
BARE = Shape(b"", frozenset([4]))
EVERY = {
    "marked": MARKED, "told": TOLD, "ended": ENDED,
    "unproven": UNPROVEN, "unmarked": UNMARKED, "bare": BARE,
}  # fmt: skip


def at(seconds: float) -> Instant:
    ns = round(seconds * 1e9)
    return Instant(START.utc_ns + ns, START.mono_ns + ns)


def marked(payload: bytes) -> bytes:
    frame = b"\xaa\x55" + payload
    return frame + bytes([sum(frame) & 0xFF])


def told(payload: bytes) -> bytes:
    frame = bytes([2, len(payload) + 1]) + payload
    check = 0
    for byte in frame:
        check ^= byte
    return frame + bytes([check, 3])


def fed(shape: Shape, *chunks: bytes) -> list[Frame]:
    """All at one moment, then silence."""
    framer = BlockFramer(shape, 0.1)
    frames: list[Frame] = []
    for chunk in chunks:
        frames += framer.feed(chunk, START)
    return frames + framer.expire(at(0.1))


def good(frames: list[Frame]) -> list[bytes]:
    return [frame.data for frame in frames if not frame.fault]


ONE, TWO = marked(b"abc"), marked(b"xyz")


def test_split_and_glued_frames_are_the_same_frames() -> None:
    stream = ONE + TWO
    assert fed(MARKED, stream) == [Frame(0, ONE, ""), Frame(6, TWO, "")]
    assert fed(MARKED, *(stream[i : i + 1] for i in range(12))) == fed(MARKED, stream)


def test_a_frame_is_known_with_its_last_byte() -> None:
    framer = BlockFramer(MARKED, 0.1)
    assert framer.feed(ONE[:-1], START) == []
    assert framer.feed(ONE[-1:] + b"\xaa", START) == [Frame(0, ONE, "")]
    assert framer.waiting_bytes == 1


def test_a_false_start_swallows_no_frame_after_it() -> None:
    for junk in (b"\xaa", b"\xaa\x55", b"\xaa\x55\xaa\x55\x00", b"\x00\xaa\xaa", ONE[1:], ONE[:-1]):
        frames = fed(MARKED, junk + ONE)
        assert good(frames) == [ONE], junk
        assert b"".join(frame.data for frame in frames) == junk + ONE


def test_a_false_length_swallows_no_frame_before_a_silence() -> None:
    whole = told(b"ab")
    # 2, 37: a start and the length of the longest frame, 40 bytes, which never come.
    junk = b"\x02\x25"
    framer = BlockFramer(TOLD, 0.1)
    assert framer.feed(junk + whole, START) == []
    assert framer.expire(at(0.0999)) == []
    assert framer.expire(at(0.1)) == [
        Frame(0, junk, "not complete when the line was silent for 0.1 s"),
        Frame(2, whole, ""),
    ]
    assert framer.waiting_bytes == 0


def test_a_length_that_no_frame_has_is_a_false_start_at_once() -> None:
    framer = BlockFramer(TOLD, 0.1)
    assert good(framer.feed(b"\x02\x24" + told(b"ab"), START)) == [told(b"ab")]


def test_a_stalled_frame_is_faulty_and_its_tail_too() -> None:
    framer = BlockFramer(MARKED, 0.1)
    assert framer.feed(ONE[:4], START) == []
    frames = framer.feed(ONE[4:] + TWO, at(0.1))
    assert frames == [
        Frame(0, ONE[:4], "not complete when the line was silent for 0.1 s"),
        Frame(4, ONE[4:], "no frame begins here"),
        Frame(6, TWO, ""),
    ]


def test_silence_is_counted_from_the_last_byte() -> None:
    framer = BlockFramer(MARKED, 0.1)
    frames: list[Frame] = []
    for i in range(6):
        frames += framer.feed(ONE[i : i + 1], at(0.09 * i))
    assert frames == [Frame(0, ONE, "")]


def test_the_reason_of_garbage_is_its_first_false_frame() -> None:
    wrong = ONE[:-1] + b"\x00"
    (noise, frame) = fed(MARKED, wrong + TWO)
    assert noise.fault == f"wrong checksum: got 00, wanted {ONE[-1]:02X}"
    assert frame == Frame(6, TWO, "")


def test_without_proof_and_end_nothing_is_found_after_garbage_before_a_silence() -> None:
    frame = b"\x02abc"
    assert good(fed(UNPROVEN, frame + frame)) == [frame, frame]
    assert good(fed(UNPROVEN, b"x" + frame)) == []
    framer = BlockFramer(UNPROVEN, 0.1)
    framer.feed(frame + b"b\x02c", START)
    assert good(framer.feed(frame, at(0.1))) == [frame]


def test_an_end_marker_proves_enough_to_search_on() -> None:
    assert good(fed(ENDED, b"\x02\x02ab\x03")) == [b"\x02ab\x03"]


def test_without_a_start_marker_a_frame_begins_after_a_silence_or_a_frame() -> None:
    frame = b"abc" + bytes([sum(b"abc") & 0xFF])
    assert good(fed(UNMARKED, frame + frame)) == [frame, frame]
    assert good(fed(UNMARKED, b"x" + frame + frame)) == []
    framer = BlockFramer(UNMARKED, 0.1)
    framer.feed(b"x" + frame, START)
    assert good(framer.feed(frame, at(0.1))) == [frame]


def test_a_bare_frame_stands_whole_between_two_silences() -> None:
    assert good(fed(BARE, b"abcd")) == [b"abcd"]
    assert good(fed(BARE, b"abc")) == []
    assert good(fed(BARE, b"abcde")) == []
    assert good(fed(BARE, b"abcdabcd")) == []
    framer = BlockFramer(BARE, 0.1)
    assert framer.feed(b"abcd", START) == []
    assert framer.feed(b"efgh", at(0.1)) == [Frame(0, b"abcd", "")]


def test_a_torn_frame_is_garbage_and_the_framer_begins_afresh() -> None:
    framer = BlockFramer(MARKED, 0.1)
    framer.feed(b"zz" + ONE[:3], START)
    assert framer.lost() == [Frame(0, b"zz" + ONE[:3], "cut off when the link was lost")]
    assert framer.lost() == []
    assert framer.deadline is None


def test_garbage_is_told_in_pieces() -> None:
    frames = fed(MARKED, b"z" * (2 * PIECE_BYTES + 10) + ONE)
    assert [len(frame.data) for frame in frames] == [PIECE_BYTES, PIECE_BYTES, 10, 6]


@pytest.mark.parametrize(
    ("sent", "byte"), [(Sent.PLAIN, 0x06), (Sent.COMPLEMENT, 0xF9), (Sent.NEGATE, 0xFA)]
)
def test_a_checksum_is_sent_plain_complemented_or_negated(sent: Sent, byte: int) -> None:
    # 1 + 2 + 3 = 6; 0xff - 6 = 0xf9; 0x100 - 6 = 0xfa.
    shape = Shape(b"\x01", frozenset([4]), proof=Proof("sum8", 0, -2, -1, "big", sent))
    frame = bytes([1, 2, 3, byte])
    assert good(fed(shape, frame)) == [frame]


@pytest.mark.parametrize(
    ("name", "order", "form", "digits"),
    [
        ("crc8-smbus", "big", Form.HEX_UPPER, b"F4"),
        ("crc8-smbus", "big", Form.HEX_LOWER, b"f4"),
        ("crc16-xmodem", "big", Form.HEX_UPPER, b"31C3"),
        ("crc16-xmodem", "little", Form.HEX_UPPER, b"C331"),
        ("crc32-iso-hdlc", "big", Form.HEX_LOWER, b"cbf43926"),
    ],
)
def test_a_checksum_may_be_sent_in_hexadecimal_digits(
    name: str, order: Order, form: Form, digits: bytes
) -> None:
    # The check values of the catalogue: the result over these nine bytes.
    frame = b"\x02123456789" + digits + b"\x03"
    proof = Proof(name, 1, 9, 10, order, Sent.PLAIN, form)
    shape = Shape(b"\x02", frozenset([len(frame)]), end=b"\x03", proof=proof)
    assert good(fed(shape, frame)) == [frame]
    for wrong in (digits.swapcase(), digits[:-1] + b"0", b"0" * len(digits)):
        told = fed(shape, frame.replace(digits, wrong))
        assert not good(told)
        assert (
            told[0].fault == f"wrong checksum: got {wrong.decode()!r}, wanted {digits.decode()!r}"
        )


def test_digits_in_letters_of_either_kind_may_be_taken() -> None:
    proof = Proof("crc8-smbus", 1, 9, 10, "big", Sent.PLAIN, Form.HEX)
    shape = Shape(b"\x02", frozenset([12]), proof=proof)
    either = [b"\x02123456789" + digits for digits in (b"F4", b"f4")]
    assert good(fed(shape, *either)) == either
    assert not good(fed(shape, b"\x02123456789F5"))


def test_the_complement_of_a_checksum_may_be_sent_in_digits() -> None:
    # 1 + 2 + 3 = 6; 0xff - 6 = 0xf9.
    proof = Proof("sum8", 0, 2, 3, "big", Sent.COMPLEMENT, Form.HEX_UPPER)
    frame = b"\x01\x02\x03F9"
    assert good(fed(Shape(b"\x01", frozenset([5]), proof=proof), frame)) == [frame]


def test_a_shape_that_cannot_be_is_refused() -> None:
    with pytest.raises(ValueError, match="a field that tells"):
        Shape(b"\x02", frozenset([4, 5]))
    with pytest.raises(ValueError, match="outside of its frame"):
        Shape(b"\x02", frozenset([4]), proof=Proof("sum8", 0, -1, -1, "big"))
    two_digits = Proof("sum8", 0, -2, -1, "big", Sent.PLAIN, Form.HEX_UPPER)
    with pytest.raises(ValueError, match="outside of its frame"):
        Shape(b"\x02", frozenset([4]), proof=two_digits)


STREAMS = st.lists(
    st.one_of(
        st.binary(max_size=3).map(lambda data: marked(data.ljust(3, b"\xaa"))),
        st.binary(min_size=1, max_size=1).map(told),
        st.binary(min_size=36, max_size=36).map(told),
        st.sampled_from([b"\x02ab\x03", b"\x02", b"\xaa", b"\xaa\x55", b"\x02\x25", b"abc\x26"]),
        st.binary(max_size=12),
        st.sampled_from([b"\x02" * 300, b"\xaa\x55" * 200]),
    ),
    max_size=10,
).map(b"".join)
CUTS = st.lists(st.integers(0, 400), max_size=12)
PAUSES = st.lists(st.sampled_from([0.0, 0.05, 0.1, 3.0]), min_size=14, max_size=14)


@pytest.mark.parametrize("name", EVERY)
@settings(deadline=None, derandomize=True)
@given(stream=STREAMS, cuts=CUTS)
def test_where_the_stream_is_cut_changes_no_frame(
    name: str, stream: bytes, cuts: list[int]
) -> None:
    places = [0, *sorted(cut for cut in cuts if cut < len(stream)), len(stream)]
    chunks = [stream[a:b] for a, b in pairwise(places)]
    assert fed(EVERY[name], *chunks) == fed(EVERY[name], stream)


@pytest.mark.parametrize("name", EVERY)
@settings(deadline=None, derandomize=True)
@given(stream=STREAMS, cuts=CUTS, pauses=PAUSES)
def test_every_byte_is_in_one_frame_in_order_and_few_wait(
    name: str, stream: bytes, cuts: list[int], pauses: list[float]
) -> None:
    shape = EVERY[name]
    framer, asked = BlockFramer(shape, 0.1), BlockFramer(shape, 0.1)
    places = [0, *sorted(cut for cut in cuts if cut < len(stream)), len(stream)]
    frames: list[Frame] = []
    same: list[Frame] = []
    now = 0.0
    for (start, end), pause in zip(pairwise(places), pauses, strict=False):
        now += pause
        same += asked.expire(at(now))
        same += asked.feed(stream[start:end], at(now))
        frames += framer.feed(stream[start:end], at(now))
        assert framer.waiting_bytes < PIECE_BYTES + shape.longest
    frames += framer.lost()
    assert frames == same + asked.lost()
    place = 0
    for frame in frames:
        assert frame.start == place
        assert frame.data == stream[place : place + len(frame.data)]
        assert frame.data
        place += len(frame.data)
    assert place == len(stream)


@settings(deadline=None, derandomize=True)
@given(stream=STREAMS, cuts=CUTS)
def test_nothing_is_lost_and_nothing_is_twice(stream: bytes, cuts: list[int]) -> None:
    for shape in EVERY.values():
        assert b"".join(frame.data for frame in fed(shape, stream)) == stream


@pytest.mark.parametrize("form", list(Form))
@pytest.mark.parametrize("sent", list(Sent))
@pytest.mark.parametrize(("name", "order"), [("sum8", "big"), ("crc16-modbus", "little")])
def test_what_is_written_of_a_checksum_is_read_as_it_and_nothing_else_is(
    name: str, order: Order, sent: Sent, form: Form
) -> None:
    proof = Proof(name, 0, 3, 4, order, sent, form)
    for checksum in (0, 1, 0x7F, 0xAB, 0xFF, (1 << proof.width_bits) - 1):
        written = proof.written(checksum)
        assert proof.read(written) == checksum
        if form is Form.HEX:
            assert proof.read(written.lower()) == checksum
        elif form is not Form.BYTES and written.upper() != written.lower():
            assert proof.read(written.swapcase()) is None
    if form is not Form.BYTES:
        for data in (b" 0", b"-1", b"G0", b"\xe90"):
            assert proof.read(data * (proof.size // 2)) is None
