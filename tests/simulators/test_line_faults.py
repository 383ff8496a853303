"""Each misbehaviour of a line by its name, on lines of a meter."""

from __future__ import annotations

from typing import Any

import pytest

from simulators.arguments import ActFault, Arguments
from simulators.faults import KINDS, NOISE, Piece, drawn, read_faults
from simulators.line import TroubledLine

LINE = b"R,0001,20,91.4,GU*51\r\n"
NEXT = b"R,0002,20,52.6,GU*5F\r\n"


def line(**options: Any) -> TroubledLine:
    return TroubledLine(b"\r\n", "seed", **options)


def troubled(kind: str, **arguments: Any) -> TroubledLine:
    one = line()
    one.await_faults(read_faults(Arguments("fault", {"kind": kind, **arguments})))
    return one


def data(pieces: list[Piece]) -> bytes:
    return b"".join(piece.data for piece in pieces)


def test_a_good_line_goes_out_as_it_is_each_line_a_piece() -> None:
    assert line().send(LINE + NEXT) == [Piece(LINE), Piece(NEXT)]
    assert line().send(b"") == []


def test_clean_leaves_the_line_and_uses_up_one_place_of_the_queue() -> None:
    one = troubled("clean")
    one.await_faults(read_faults(Arguments("fault", {"kind": "lost"})))
    assert one.waiting_faults == 2
    assert one.send(LINE) == [Piece(LINE)]
    assert one.send(NEXT) == []
    assert one.waiting_faults == 0


def test_garbage_comes_in_one_chunk_with_the_line() -> None:
    (piece,) = troubled("garbage", bytes=20).send(LINE)
    assert piece.data[20:] == LINE
    assert set(piece.data[:20]) <= set(NOISE)
    assert troubled("garbage", hex="00ff41").send(LINE) == [Piece(b"\x00\xffA" + LINE)]
    assert troubled("garbage", hex="ff", ended=True).send(LINE) == [Piece(b"\xff\r\n" + LINE)]


def test_noise_holds_nothing_that_could_pass_for_a_part_of_a_line() -> None:
    assert not set(NOISE) & set(range(0x09, 0x80))


def test_cut_silences_the_rest_of_the_line_and_all_that_is_sent_with_it() -> None:
    one = troubled("cut", at=5)
    assert one.send(LINE + NEXT) == [Piece(LINE[:5])]
    assert one.send(NEXT) == [Piece(NEXT)]
    assert troubled("cut").send(LINE) == [Piece(LINE[:11])]
    assert troubled("cut", at=21).send(LINE) == [Piece(LINE[:21])]


def test_torn_pulls_the_plug_after_the_first_bytes() -> None:
    pieces = troubled("torn", at=7, gap_s=0.2).send(LINE + NEXT)
    assert pieces == [Piece(LINE[:7]), Piece(b"", 0.2, hang_up=True)]


def test_lost_never_comes() -> None:
    assert troubled("lost").send(LINE + NEXT) == [Piece(NEXT)]


def test_late_comes_later() -> None:
    assert troubled("late", delay_s=2.5).send(LINE) == [Piece(LINE, 2.5)]


def test_glued_waits_for_the_next_line_and_comes_in_one_chunk_with_it() -> None:
    one = troubled("glued")
    assert one.send(LINE) == []
    assert one.send(NEXT) == [Piece(LINE + NEXT)]
    assert troubled("glued", lines=2).send(LINE + NEXT + NEXT) == [Piece(LINE + NEXT + NEXT)]


def test_glued_is_not_lost_with_a_next_line_that_is() -> None:
    one = troubled("glued")
    one.await_faults(read_faults(Arguments("fault", {"kind": "lost"})))
    assert one.send(LINE) == []
    assert one.send(NEXT) == [Piece(LINE)]


def test_split_comes_in_single_bytes_with_gaps() -> None:
    pieces = troubled("split", gap_s=0.003).send(LINE)
    assert [piece.data for piece in pieces] == [bytes([byte]) for byte in LINE]
    assert [piece.delay_s for piece in pieces] == [0.0] + [0.003] * (len(LINE) - 1)


def test_corrupted_changes_one_byte_and_never_the_terminator() -> None:
    out = data(troubled("corrupted").send(LINE))
    wrong = [place for place, (a, b) in enumerate(zip(LINE, out, strict=True)) if a != b]
    assert wrong == [10]
    assert out[10] == LINE[10] ^ 0x01
    assert data(troubled("corrupted", at=0, xor=255).send(LINE)) == b"\xad" + LINE[1:]
    assert data(troubled("corrupted", at=999).send(LINE)) == LINE[:19] + b"0\r\n"
    assert data(troubled("corrupted").send(b"\r\n")) == b"\r\n"


def test_corrupted_on_a_line_with_parity_gives_a_byte_outside_seven_bits() -> None:
    one = TroubledLine(b"\r", "seed", flip=0x80)
    one.await_faults(read_faults(Arguments("fault", {"kind": "corrupted"})))
    assert data(one.send(b"1 60   88,3 GU\r")) == b"1 60   \xb88,3 GU\r"


def test_repeated_comes_again() -> None:
    assert troubled("repeated").send(LINE) == [Piece(LINE)] * 2
    assert troubled("repeated", times=3).send(LINE) == [Piece(LINE)] * 4


def test_wrong_terminator_ends_the_line_in_other_bytes() -> None:
    assert troubled("wrong_terminator").send(LINE) == [Piece(LINE[:-2] + b"\n")]
    assert troubled("wrong_terminator", hex="").send(LINE) == [Piece(LINE[:-2])]
    assert troubled("wrong_terminator", hex="0d0d0a").send(LINE) == [Piece(LINE[:-2] + b"\r\r\n")]


def test_flood_comes_before_the_line_which_is_whole_after_it() -> None:
    out = data(troubled("flood").send(LINE))
    assert len(out) == 65536 + 2 + len(LINE)
    assert set(out[:65536]) == set(NOISE)
    assert out.endswith(b"\r\n" + LINE)
    assert data(troubled("flood", bytes=10, ended=False).send(LINE))[10:] == LINE


def test_endless_has_no_terminator_and_nothing_comes_after_it() -> None:
    pieces = troubled("endless", bytes=200, gap_s=0.5).send(LINE + NEXT)
    assert data(pieces) == b"7" * 200
    assert [len(piece.data) for piece in pieces] == [64, 64, 64, 8]
    assert [piece.delay_s for piece in pieces] == [0.0, 0.5, 0.5, 0.5]


def test_each_line_of_a_press_takes_a_fault_of_its_own() -> None:
    one = troubled("lost", lines=2)
    assert one.send(LINE + NEXT + LINE) == [Piece(LINE)]


def test_hush_forgets_what_waits() -> None:
    one = troubled("glued", lines=3)
    one.send(LINE)
    one.hush()
    assert one.send(NEXT) == [Piece(NEXT)]


def test_latency_comes_once_before_the_first_line() -> None:
    assert line(latency_s=0.4).send(LINE + NEXT) == [Piece(LINE, 0.4), Piece(NEXT)]


def test_chatter_comes_before_some_lines_and_spoils_none() -> None:
    one, same, other = (
        TroubledLine(b"\r\n", seed, chatter=0.3) for seed in ("seed", "seed", "another")
    )
    outs = [data(one.send(LINE)) for _ in range(300)]
    assert all(out == LINE or out.endswith(b"\r\n" + LINE) for out in outs)
    # Four standard deviations of a binomial: 4 x sqrt(300 x 0.3 x 0.7) = 32.
    assert sum(out != LINE for out in outs) == pytest.approx(90, abs=32)
    assert [data(same.send(LINE)) for _ in range(300)] == outs
    assert [data(other.send(LINE)) for _ in range(300)] != outs


def test_noise_of_a_line_does_not_depend_on_the_faults_of_others() -> None:
    plain, other = line(chatter=0.5), line(chatter=0.5)
    other.await_faults(read_faults(Arguments("fault", {"kind": "flood", "bytes": 1000})))
    plain.send(LINE)
    other.send(LINE)
    assert [plain.send(LINE) for _ in range(50)] == [other.send(LINE) for _ in range(50)]


def test_drawn_faults_befall_their_share_of_lines_and_the_same_ones_for_a_seed() -> None:
    kinds = ["repeated", "split"]
    one, same, other = (
        TroubledLine(b"\r\n", seed, draw=drawn(0.3, kinds)) for seed in ("seed", "seed", "another")
    )
    outs = [one.send(LINE) for _ in range(300)]
    twice, single = [Piece(LINE), Piece(LINE)], len(LINE)
    # Four standard deviations of a binomial: 4 x sqrt(300 x 0.15 x 0.85) = 25.
    assert sum(out == twice for out in outs) == pytest.approx(45, abs=25)
    assert sum(len(out) == single for out in outs) == pytest.approx(45, abs=25)
    assert sum(out == [Piece(LINE)] for out in outs) == pytest.approx(210, abs=32)
    assert [same.send(LINE) for _ in range(300)] == outs
    assert [other.send(LINE) for _ in range(300)] != outs


def test_a_fault_that_waits_comes_before_one_that_is_drawn() -> None:
    one = TroubledLine(b"\r\n", "seed", draw=drawn(1.0, ["repeated"]))
    one.await_faults(read_faults(Arguments("fault", {"kind": "clean"})))
    assert one.send(LINE) == [Piece(LINE)]
    assert one.send(LINE) == [Piece(LINE), Piece(LINE)]


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_works_with_nothing_but_its_name(kind: str) -> None:
    one = troubled(kind)
    one.send(LINE)
    assert data(one.send(NEXT)).endswith(NEXT)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({}, "fault kind: got nothing, wanted one of clean, garbage"),
        ({"kind": "bent"}, 'fault kind: got "bent", wanted one of'),
        ({"kind": "cut", "at": -1}, "fault at: got -1, wanted a whole number from 0"),
        ({"kind": "cut", "at": 1.5}, "fault at: got 1.5, wanted a whole number"),
        ({"kind": "cut", "at": True}, "fault at: got true, wanted a whole number"),
        ({"kind": "cut", "hex": "00"}, 'fault hex: got "00", wanted kind, lines, at'),
        ({"kind": "garbage", "hex": "0"}, 'fault hex: got "0", wanted pairs of hex'),
        ({"kind": "garbage", "ended": 1}, "fault ended: got 1, wanted true or false"),
        ({"kind": "flood", "bytes": 10**9}, "fault bytes: got 1000000000, wanted a whole"),
        ({"kind": "late", "delay_s": "1"}, 'fault delay_s: got "1", wanted a number from 0 to 60'),
        ({"kind": "late", "delay_s": 61}, "fault delay_s: got 61, wanted a number"),
        ({"kind": "lost", "lines": 0}, "fault lines: got 0, wanted a whole number from 1"),
    ],
)
def test_a_fault_that_cannot_be_is_told_with_what_is_wanted(
    given: dict[str, Any], message: str
) -> None:
    with pytest.raises(ActFault) as fault:
        read_faults(Arguments("fault", given))
    assert str(fault.value).startswith(message)
