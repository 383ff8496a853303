"""Tape files: they come back as they were, and no damage goes unnoticed or raises anything else."""

from __future__ import annotations

import json
import os
import random
import tracemalloc
from pathlib import Path
from zlib import crc32

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.errors import CoatbenchError, Misfortune, SettingsError
from acquire.link.tape import (
    RECEIVED,
    SENT,
    Ended,
    Made,
    Missing,
    Passed,
    Tape,
    Whose,
    entries,
)
from acquire.link.tape_file import Damage, read_tape, read_up_to_damage, write_tape
from acquire.model import Instant

OPENED = Instant(10**18, 10**12)


def at(seconds: float) -> Instant:
    return Instant(OPENED.utc_ns + round(seconds * 1e9), OPENED.mono_ns + round(seconds * 1e9))


def reading(start: int, value: str, seconds: float, number: int) -> Made:
    says = {"value": value, "unit": "gloss_unit", "channel": "20", "press": "", "flags": ""}
    utc_ns = at(seconds).utc_ns
    return Made("reading", start, start + 8, utc_ns, (*says.items(), ("text", value)), number)


TAPE = Tape(
    OPENED,
    "/dev/é",
    (
        Passed(SENT, 0, at(0), b"I?\r\n"),
        Passed(RECEIVED, 0, at(0.1), b"\xff\x00 82.\r\n"),
        Passed(RECEIVED, 8, at(2), b"20 82.5\r"),
        Passed(RECEIVED, 30, at(4), b"20 82.6\r"),
    ),
    Whose("shore", "gloss", "SH-0417", "line", "gloss-press", "[line]\n# ü\n", "A5"),
    (
        Made("noise", 0, 8, at(0.1).utc_ns, (("reason", "no line"),), 1),
        reading(8, "82.5", 2, 1),
        reading(30, "82.6", 4, 2),
    ),
    (Missing(at(2.5).utc_ns, at(3).utc_ns, 14),),
    Ended(at(5), "unplugged"),
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    write_tape(tmp_path / "shore.tape", TAPE)
    return tmp_path / "shore.tape"


def test_a_tape_that_cannot_be_written_to_its_end_leaves_the_one_that_was_there(path: Path) -> None:
    begun = TAPE._replace(made=(TAPE.made[0]._replace(number=b"1"),))  # type: ignore[arg-type]
    with pytest.raises(TypeError):
        write_tape(path, begun)
    assert read_tape(path) == TAPE
    assert list(path.parent.iterdir()) == [path]


def test_a_link_to_a_tape_stays_a_link(path: Path) -> None:
    link = path.with_name("link.tape")
    link.symlink_to(path.name)
    write_tape(link, TAPE._replace(where="elsewhere"))
    assert link.is_symlink()
    assert read_tape(path).where == "elsewhere"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes here")
def test_a_pipe_is_no_tape_and_nobody_waits_for_it(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.tape")
    with pytest.raises(Misfortune, match="cannot be read as a tape"):
        read_up_to_damage(tmp_path / "pipe.tape")


def test_a_tape_comes_back_with_all_that_was_on_it(path: Path) -> None:
    assert read_tape(path) == TAPE
    assert read_up_to_damage(path).damage is None


def test_facts_follow_on_the_bytes_they_were_made_of_and_gaps_stand_where_they_were() -> None:
    kinds = [type(entry).__name__ for entry in entries(TAPE)]
    assert kinds == [
        "Passed", "Passed", "Made", "Passed", "Made", "Missing", "Passed", "Made"
    ]  # fmt: skip


def test_the_check_sum_is_the_crc_32_of_its_published_check_value(path: Path) -> None:
    # CRC-32 of ISO/IEC 8802-3 over "123456789" (from memory; also in acquire.wire.checksum).
    assert crc32(b"123456789") == 0xCBF43926
    first, second = path.read_bytes().splitlines()[:2]
    crc = crc32(first[:-20] + b"}")
    assert json.loads(first)["crc"] == f"{crc:08x}"
    assert json.loads(second)["crc"] == f"{crc32(second[:-20] + b'}', crc):08x}"


@st.composite
def tapes(draw: st.DrawFn) -> Tape:
    """Tapes of any bytes, holes and silences."""
    ends = {RECEIVED: draw(st.integers(0, 2**40)), SENT: draw(st.integers(0, 2**40))}
    before = ends[RECEIVED]
    passed, moment = list[Passed](), OPENED
    for _ in range(draw(st.integers(0, 8))):
        direction = draw(st.sampled_from([RECEIVED, SENT]))
        offset = ends[direction] + draw(st.sampled_from([0, 0, 0, 7]))
        data = draw(st.binary(max_size=20))
        step_ns = draw(st.integers(0, 10**9))
        moment = Instant(moment.utc_ns + step_ns, moment.mono_ns + step_ns)
        passed.append(Passed(direction, offset, moment, data))
        ends[direction] = offset + len(data)
    return Tape(OPENED, draw(st.text(max_size=9)), tuple(passed), received_before=before)


@settings(deadline=None, derandomize=True)
@given(tapes())
def test_any_tape_comes_back_as_it_was(
    tmp_path_factory: pytest.TempPathFactory, tape: Tape
) -> None:
    path = tmp_path_factory.mktemp("tapes") / "any.tape"
    try:
        tape.where.encode()
    except UnicodeEncodeError:
        return
    write_tape(path, tape)
    assert read_tape(path) == tape


# -- damage ----------------------------------------------------------------------------------------


def is_beginning(part: Tape) -> bool:
    """Whether nothing is on the part but what is on the tape, from its beginning on."""
    return (
        part.passed == TAPE.passed[: len(part.passed)]
        and part.made == TAPE.made[: len(part.made)]
        and part.whose == TAPE.whose
        and part.missing in ((), TAPE.missing)
    )


def test_a_tape_cut_off_at_any_byte_is_refused_or_read_up_to_there_and_said_so(
    path: Path,
) -> None:
    whole = path.read_bytes()
    head = whole.index(b"\n") + 1
    for length in range(len(whole)):
        path.write_bytes(whole[:length])
        if length < head:
            with pytest.raises(SettingsError) as caught:
                read_up_to_damage(path)
            assert len(caught.value.faults) == 1
            continue
        tape, damage = read_up_to_damage(path)
        assert damage is not None
        assert is_beginning(tape)
        assert damage.line == whole[:length].count(b"\n") + 1
        assert damage.byte == whole.rindex(b"\n", 0, length) + 1
        with pytest.raises(SettingsError):
            read_tape(path)


@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("is_all", [True, False])
def test_a_tape_whose_line_ends_an_editor_changed_is_read_as_it_was(
    path: Path, mark: bytes, is_all: bool
) -> None:
    lines = path.read_bytes().splitlines()
    ends = [b"\r\n" if is_all or n % 2 else b"\n" for n in range(len(lines))]
    path.write_bytes(mark + b"".join(a + b for a, b in zip(lines, ends, strict=True)))
    assert read_tape(path) == TAPE


def test_a_tape_with_the_line_ends_of_an_editor_is_cut_off_where_it_is_cut_off(path: Path) -> None:
    whole = path.read_bytes().replace(b"\n", b"\r\n")
    for size in range(len(whole) - 3 * len(whole.splitlines()[-1]), len(whole)):
        path.write_bytes(whole[:size])
        damage = read_up_to_damage(path).damage
        assert damage is not None
        assert damage.why in ("the line is cut off", "the file ends here")


def test_a_tape_without_any_line_feed_is_told_what_happened_to_it(path: Path) -> None:
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r"))
    with pytest.raises(SettingsError, match="line ends were changed to CR alone"):
        read_tape(path)


def test_what_is_missing_is_counted(path: Path) -> None:
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(b"".join(lines[:5]))
    _, damage = read_up_to_damage(path)
    assert str(damage) == (
        f"damaged at line 6 (byte {path.stat().st_size} of the file): the file ends here; missing: "
        "8 of 24 received bytes, 0 of 4 sent ones and 2 of 3 facts, from 2.000 s after the "
        "opening on"
    )
    path.write_bytes(b"".join(lines[:-1]))
    _, damage = read_up_to_damage(path)
    assert damage is not None
    assert damage.missing == "nothing of what passed; only the end"


def test_any_changed_byte_is_noticed_where_it_is(path: Path) -> None:
    whole = path.read_bytes()
    head = whole.index(b"\n")
    draw = random.Random(1)
    for place in range(len(whole)):
        changed = bytearray(whole)
        changed[place] ^= draw.randrange(1, 256)
        path.write_bytes(changed)
        try:
            tape, damage = read_up_to_damage(path)
        except SettingsError:
            assert place <= head
            continue
        assert damage is not None, place
        assert is_beginning(tape)
        line = whole[:place].count(b"\n") + 1
        # A line feed that is gone shows at the end of its line or of the next.
        assert line - 1 <= damage.line <= line + 1


@pytest.mark.parametrize("act", ["lost", "doubled", "swapped", "appended"])
def test_a_line_that_is_lost_doubled_or_moved_is_noticed(path: Path, act: str) -> None:
    lines = path.read_bytes().splitlines(keepends=True)
    for place in range(1, len(lines) - 1):
        other = list(lines)
        if act == "lost":
            del other[place]
        elif act == "doubled":
            other.insert(place, lines[place])
        elif act == "swapped":
            other[place], other[place + 1] = other[place + 1], other[place]
        else:
            other.append(lines[place])
        path.write_bytes(b"".join(other))
        tape, damage = read_up_to_damage(path)
        assert damage is not None
        assert is_beginning(tape)


@settings(deadline=None, derandomize=True, max_examples=100)
@given(
    st.lists(
        st.tuples(
            st.sampled_from(["flip", "cut", "insert", "swap"]),
            st.integers(0, 10**6),
            st.binary(min_size=1, max_size=40),
        ),
        min_size=1,
        max_size=4,
    )
)
def test_whatever_befalls_a_file_it_is_a_beginning_a_refusal_or_the_whole(
    tmp_path_factory: pytest.TempPathFactory, acts: list[tuple[str, int, bytes]]
) -> None:
    path = tmp_path_factory.mktemp("tapes") / "any.tape"
    write_tape(path, TAPE)
    data = whole = path.read_bytes()
    for act, number, noise in acts:
        place = number % (len(data) + 1)
        if act == "flip":
            data = data[:place] + noise + data[place + len(noise) :]
        elif act == "cut":
            data = data[:place] + data[place + len(noise) :]
        elif act == "insert":
            data = data[:place] + noise + data[place:]
        else:
            data = data[place:] + data[:place]
    path.write_bytes(data)
    try:
        tape, damage = read_up_to_damage(path)
    except CoatbenchError as error:
        refusal = error
    else:
        refusal = None
    if refusal is not None:
        assert refusal.next_step
        return
    if data == whole:
        assert (tape, damage) == (TAPE, None)
    else:
        assert isinstance(damage, Damage)
        assert is_beginning(tape)


# -- forged, refused -------------------------------------------------------------------------------


def sealed(items: list[object]) -> bytes:
    """Lines with check sums that fit, whatever they say."""
    crc, lines = 0, b""
    for item in items:
        body = (item if isinstance(item, str) else json.dumps(item)).encode()
        crc = crc32(body, crc)
        lines += b'%s, "crc": "%08x"}\n' % (body[:-1], crc)
    return lines


HEAD = {
    "tape": 2,
    "opened": [1, 2],
    "where": "",
    "whose": None,
    "before": 0,
    "holds": {"received": 0, "sent": 0, "made": 0},
}
SPAN = {"bytes": [0, 1], "at": 1, "number": 1}


def test_a_tape_of_another_version_is_refused_in_one_message(path: Path) -> None:
    later = {"tape": 3, "anything": {}}
    for text in (sealed([later]), b'{"tape": 1, "opened": [1, 2], "where": ""}\nrest\n'):
        path.write_bytes(text)
        with pytest.raises(SettingsError) as caught:
            read_up_to_damage(path)
        (fault,) = caught.value.faults
        assert fault.got in ("a tape of version 3", "a tape of version 1")
        assert fault.wanted == "version 2"
        assert "cut it anew" in caught.value.next_step


@pytest.mark.parametrize(
    "head",
    [
        {**HEAD, "opened": [1]},
        {**HEAD, "opened": [1, -2]},
        {**HEAD, "where": 5},
        {**HEAD, "whose": {"instrument": "x"}},
        {**HEAD, "whose": []},
        {**HEAD, "before": 2**63},
        {**HEAD, "holds": {}},
        {"tape": "2"},
        {},
    ],
)
def test_a_head_that_says_what_no_tape_says_is_refused(path: Path, head: object) -> None:
    path.write_bytes(sealed([head]))
    with pytest.raises(SettingsError, match="line 1"):
        read_up_to_damage(path)


@pytest.mark.parametrize(
    "line",
    [
        {"received": "x", "at": [1, 2], "offset": -1},
        {"received": "x", "at": [1, 2], "offset": True},
        {"received": "x", "sent": "y", "at": [1, 2], "offset": 0},
        {"received": "\u0100", "at": [1, 2], "offset": 0},
        {"received": "x", "at": [1], "offset": 0},
        {"received": 5, "at": [1, 2], "offset": 0},
        {"received": "x", "at": [1, 2], "offset": 2**63 - 1},
        {"made": "dream", **SPAN, "says": {}},
        {"made": "reading", **SPAN, "says": {"value": "1"}},
        {"made": "noise", **SPAN, "says": {"reason": 5}},
        {"made": "samples", **SPAN, "says": dict.fromkeys(("counts", "first", "unit"), "x")},
        {
            "made": "samples",
            **SPAN,
            "says": {"counts": "000", "first": "0", "unit": "", "step": "1", "rate_hz": "1"},
        },
        {"missing": 1, "between": 5},
        {"end": 7, "ended": None},
        {"end": 2, "ended": {"at": [1, 2]}},
        {"nothing": 1},
        '{"received": ' + "[" * 20_000 + "}",
        '{"received": 1e999, "at": [1, 2], "offset": ' + "9" * 5000 + "}",
    ],
    ids=range(18),
)
def test_a_line_that_says_what_no_tape_says_is_told_with_its_number(
    path: Path, line: object
) -> None:
    path.write_bytes(sealed([HEAD, line]))
    tape, damage = read_up_to_damage(path)
    assert tape.passed == ()
    assert damage is not None
    assert damage.line == 2


def test_bytes_that_passed_before_are_no_tape(path: Path) -> None:
    one = {"received": "xyz", "at": [1, 2], "offset": 0}
    path.write_bytes(sealed([HEAD, one, {**one, "offset": 2}]))
    tape, damage = read_up_to_damage(path)
    assert len(tape.passed) == 1
    assert damage is not None
    assert "bytes that passed before" in damage.why


def test_a_tape_of_any_length_takes_no_room_and_one_that_is_written_over_is_told(
    path: Path,
) -> None:
    lines = [
        {"received": "x" * 200, "at": [number, number], "offset": 200 * number}
        for number in range(2000)
    ]
    path.write_bytes(sealed([HEAD, *lines]))
    tracemalloc.start()
    try:
        tape, _ = read_up_to_damage(path)
        assert tape.bytes_of("received") == 400_000
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert most < 200_000
    path.write_bytes(b"something else\n" * 9)
    with pytest.raises(Misfortune, match="not what it was a moment ago"):
        list(tape.passed)


def test_no_file_and_a_folder_are_told(tmp_path: Path) -> None:
    for path in (tmp_path / "none", tmp_path):
        with pytest.raises(Misfortune, match="cannot be read as a tape"):
            read_up_to_damage(path)
    (tmp_path / "empty").write_bytes(b"")
    with pytest.raises(SettingsError, match="the file ends here"):
        read_up_to_damage(tmp_path / "empty")
