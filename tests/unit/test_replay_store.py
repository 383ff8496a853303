"""What a session recorded is replayed from its store, and from a tape file, with the same facts."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from acquire.cli.replay import gate_lines, verdict_lines
from acquire.errors import NotFound
from acquire.link.tape import RECEIVED, Made, Tape
from acquire.link.tape_cut import cut
from acquire.link.tape_file import read_tape, write_tape
from acquire.model import Fact, Instant
from acquire.report.proof.regate import regate
from acquire.report.replay.replaying import Replayed, cast, played
from acquire.report.replay.taped import listed, taped
from acquire.store import StoreReader
from tests.captures import EVERY, Shelved, of_layout
from tests.unit.tape_bench import TapeBench, record, tape_of
from tests.yard import Yard


def capture(name: str) -> Shelved:
    return next(one for one in EVERY if one.capture.name == name)


def stored_tape(folder: Path, one: Shelved) -> Tape:
    with StoreReader(record(folder, one).with_name("bench.sqlite")) as reader:
        return taped(reader, 1)


def play(tape: Tape) -> Replayed:
    return played(tape, cast(tape.whose))


def facts_of(tape: Tape) -> list[Made]:
    """What is made of it now."""
    facts: list[Made] = []
    played(tape, cast(tape.whose), heard=facts.append)
    return facts


@pytest.mark.parametrize("layout", sorted({one.profile for one in EVERY}))
def test_every_capture_recorded_by_a_session_plays_the_same_whole_by_file_and_by_half(
    layout: str, tmp_path: Path
) -> None:
    captures = of_layout(layout)
    bench = TapeBench(tmp_path, layout)
    for one in captures:
        bench.record(*tape_of(one))
    bench.close()
    file = tmp_path / "meter.tape"
    with StoreReader(bench.store) as reader:
        for number, one in enumerate(captures, 1):
            tape = taped(reader, number)
            done = play(tape)
            comparison = done.comparison()
            assert (comparison.differences, comparison.aside, done.failed) == ([], 0, "")
            assert done.strayed == 0
            if not any(step.takes for step in one.capture.steps):
                # What is asked in vain between the steps of a capture may be told besides.
                same = sum(count.same for count in comparison.counts.values())
                assert same >= len(one.capture.facts)
            write_tape(file, tape)
            again = read_tape(file)
            assert facts_of(again) == facts_of(tape)
            assert play(again).comparison() == comparison
            half_s = tape.passed[-1].at.seconds_since(tape.opened) / 2
            write_tape(file, cut(tape, None, half_s))
            assert play(read_tape(file)).comparison().differences == []


@pytest.mark.parametrize("name", ["gloss-press/press", "frame-gloss/counter", "modbus-gloss/press"])
def test_one_changed_byte_is_told_with_its_place(name: str, tmp_path: Path) -> None:
    found = [one for one in EVERY if one.capture.name.startswith(name.split("/", maxsplit=1)[0])]
    one = next(o for o in found if any(f.what == "reading" and f.raw for f in o.capture.facts))
    tape = stored_tape(tmp_path, one)
    reading = next(m for m in tape.made if m.what == "reading")
    place = reading.start + (reading.end - reading.start) // 2
    passed = tuple(
        p._replace(data=bytes(b ^ 1 if p.offset + i == place else b for i, b in enumerate(p.data)))
        if p.direction == RECEIVED
        else p
        for p in tape.passed
    )
    comparison = play(tape._replace(passed=passed)).comparison()
    assert not comparison.is_same
    first = comparison.differences[0]
    assert first.byte <= place < reading.end
    assert first.at_utc_ns >= tape.opened.utc_ns


def test_a_profile_that_was_changed_gives_other_values_and_says_which(tmp_path: Path) -> None:
    tape = stored_tape(tmp_path, capture("gloss-press/start"))
    assert tape.whose is not None
    index, fact = next((i, m) for i, m in enumerate(tape.made) if m.what == "reading")
    says = tuple((k, "99.9" if k == "value" else v) for k, v in fact.says)
    made = list(tape.made)
    made[index] = fact._replace(says=says)
    (difference,) = play(tape._replace(made=tuple(made))).comparison().differences
    assert difference.byte == fact.start
    assert "value '99.9'" in difference.then
    assert f"reading {fact.number}:" in difference.then
    assert "99.9" not in difference.now


def test_what_touches_unrecorded_bytes_is_put_aside_and_all_else_compared(tmp_path: Path) -> None:
    tape = stored_tape(tmp_path, capture("gloss-press/range"))
    heard = [p for p in tape.passed if p.direction == RECEIVED and p.data.startswith(b"R,")]
    lost = heard[len(heard) // 2]
    begin, end = lost.offset, lost.offset + len(lost.data)
    kept = tape._replace(
        passed=tuple(p for p in tape.passed if p != lost),
        made=tuple(m for m in tape.made if m.end <= begin or m.start >= end),
    )
    assert len(kept.made) < len(tape.made)
    done = play(kept)
    assert [(h.start, h.end) for h in done.holes] == [(begin, end)]
    assert done.comparison().differences == []
    told = "\n".join(verdict_lines(done, done.comparison()))
    assert " went unrecorded in 1 place: nothing can be said of these\n" in told
    assert " facts at these places, or where the tape begins or ends in the middle of " in told
    # Its count tells that a press was missed; behind that all is as it was.
    behind = [m.start for m in facts_of(kept) if m.start > end and m.end > m.start]
    assert behind == [m.start for m in kept.made if m.start > end]


def test_bytes_of_a_tape_without_an_end_that_have_no_row_are_told(tmp_path: Path) -> None:
    tape = stored_tape(tmp_path, capture("counter-total/start"))
    last = max(p.offset for p in tape.passed if p.direction == RECEIVED)
    early = tuple(m for m in tape.made if m.end <= last)
    done = play(tape._replace(ended=None, made=early))
    comparison = done.comparison()
    assert comparison.is_same
    missing = [m for m in tape.made if m.end > last]
    assert missing
    assert [one.byte for one in comparison.unstored] == [m.start for m in missing]
    assert comparison.aside == 0


@pytest.mark.parametrize("name", ["gloss-press/adjusted", "gloss-asked/noise", "modbus-gloss/echo"])
def test_a_daemon_that_is_killed_at_any_moment_leaves_no_reading_of_its_tape_untold(
    name: str, tmp_path: Path
) -> None:
    one = capture(name)
    whole = {m.start: m.end for m in stored_tape(tmp_path, one).made if m.what == "reading"}
    lacking, kills = 0, 0
    while True:
        kills += 1
        folder = tmp_path / str(kills)
        folder.mkdir()
        bench = TapeBench(folder, one.profile)
        bench.record(*tape_of(one), killed_after=kills)
        bench.close()
        with StoreReader(bench.store) as reader:
            tape = taped(reader, 1)
            if tape.ended is not None:
                break
            comparison = play(tape).comparison()
            stored = {m.start for m in tape.made if m.what == "reading"}
        assert (comparison.differences, comparison.aside) == ([], 0)
        told = {d.byte for d in comparison.unstored if d.what == "reading"}
        heard = tape.bytes_of(RECEIVED)
        assert not told & stored
        assert told <= whole.keys()
        assert {start for start, end in whole.items() if end <= heard} <= told | stored
        lacking += bool(told)
    assert lacking


def test_a_reading_behind_all_bytes_of_a_tape_without_an_end_is_a_difference(
    tmp_path: Path,
) -> None:
    tape = stored_tape(tmp_path, capture("counter-total/start"))
    last = max(p.offset for p in tape.passed if p.direction == RECEIVED)
    short = tuple(p for p in tape.passed if p.direction != RECEIVED or p.offset < last)
    comparison = play(tape._replace(ended=None, passed=short)).comparison()
    behind = [m.start for m in tape.made if m.end > last]
    assert behind
    assert [d.byte for d in comparison.differences] == behind
    assert not any(d.now for d in comparison.differences)


def test_what_a_driver_of_now_never_gives_of_the_last_bytes_is_a_difference(
    tmp_path: Path,
) -> None:
    tape = stored_tape(tmp_path, capture("gloss-press/range"))
    role = cast(tape.whose)

    class Holds:
        """Gives what it made once three further facts have come, as one that waits for silence."""

        def __init__(self) -> None:
            self.held: list[Fact] = []

        def __getattr__(self, name: str) -> object:
            return getattr(role.driver, name)

        def feed(self, data: bytes, at: Instant) -> list[Fact]:
            self.held += role.driver.feed(data, at)
            given, self.held = self.held[:-3], self.held[-3:]
            return given

    done = played(tape._replace(ended=None), role._replace(driver=Holds()))  # type: ignore[arg-type]
    comparison = done.comparison()
    assert (comparison.differences, comparison.unstored) == ([], ())
    assert comparison.aside == 3
    (told,) = [line for line in verdict_lines(done, comparison) if "compared" in line]
    assert told == (
        "3 facts where the tape begins or ends in the middle of something could not be compared"
    )


def test_a_driver_that_raises_is_told_and_ends_the_play(tmp_path: Path) -> None:
    tape = stored_tape(tmp_path, capture("gloss-press/start"))
    role = cast(tape.whose)

    class Broken:
        def __getattr__(self, name: str) -> object:
            return getattr(role.driver, name)

        def feed(self, data: bytes, at: object) -> list[object]:
            raise RuntimeError("no such byte")

    done = played(tape, role._replace(driver=Broken()))  # type: ignore[arg-type]
    assert "no such byte" in done.failed
    assert done.failed_now
    assert not done.comparison().is_same


def test_a_driver_that_would_send_something_else_is_told(tmp_path: Path) -> None:
    one = next(o for o in EVERY if o.profile == "gloss-asked" and len(o.capture.steps) > 2)
    tape = stored_tape(tmp_path, one)
    place = max(i for i, p in enumerate(tape.passed) if p.direction == "sent")
    other = tape.passed[place]._replace(data=b"other\r")
    passed = (*tape.passed[:place], other, *tape.passed[place + 1 :])
    done = play(tape._replace(passed=passed))
    assert done.strayed == 1
    assert done.first_stray == other


def test_a_number_that_is_no_tape_is_told_with_those_there_are(tmp_path: Path) -> None:
    bench = record(tmp_path, capture("gloss-press/start"))
    with StoreReader(bench.with_name("bench.sqlite")) as reader:
        for number in (0, 2, 2**63, 10**30):
            with pytest.raises(NotFound, match="1 to 1"):
                taped(reader, number)


def test_the_list_counts_what_passed(tmp_path: Path) -> None:
    one = capture("gloss-press/start")
    bench = record(tmp_path, one)
    with StoreReader(bench.with_name("bench.sqlite")) as reader:
        (found,) = listed(reader)
    assert (found.number, found.instrument, found.serial) == (1, "meter", "SH-0417")
    assert (found.driver, found.profile) == ("line", "gloss-press")
    assert found.received == len(one.received)
    assert found.readings == sum(f.what == "reading" for f in one.capture.facts)
    assert found.ended is not None
    assert "over" in found.ended


# -- the gate --------------------------------------------------------------------------------------


def gone_through(yard: Yard) -> None:
    """Two cut off by a re-adjustment, one refused after it, one that counts by a new check."""
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.clock.advance(1)
    yard.press("shore", "80.2")
    from acquire.model import NoticeKind

    yard.tell("shore", NoticeKind.ADJUSTED)
    yard.press("shore", "80.3")
    yard.clock.advance(1)
    yard.check("shore")
    yard.press("shore", "80.4")


def test_the_gate_gives_every_reading_the_same_answer_again(yard: Yard) -> None:
    gone_through(yard)
    with StoreReader(yard.bench.store) as reader:
        found = regate(reader, 1)
    assert (found.counting, found.refused, found.unlike, found.loose) == (1, 1, (), 0)


def test_readings_that_no_run_was_open_for_are_told_apart_from_those_the_gate_refused(
    yard: Yard,
) -> None:
    yard.press("shore", "80.1")
    gone_through(yard)
    with StoreReader(yard.bench.store) as reader:
        found = regate(reader, 1)
    assert (found.counting, found.refused, found.loose) == (1, 1, 1)
    assert list(gate_lines(found)) == [
        "the gate, asked again of 1 reading that counts and 1 that was refused: the same answers",
        "1 reading was not accepted for another reason: coatbench readings --loose says why",
    ]


def test_a_pass_that_was_tampered_with_gives_other_answers(yard: Yard) -> None:
    gone_through(yard)
    with closing(sqlite3.connect(yard.bench.store)) as connection:
        connection.execute("DROP TRIGGER check_judgement_no_update")
        connection.execute(
            "UPDATE check_judgement SET expires_utc_ns = at_utc_ns + 1 WHERE check_id = 2"
        )
        connection.commit()
    with StoreReader(yard.bench.store) as reader:
        found = regate(reader, 1)
    (answer,) = found.unlike
    assert answer.then == "open by check 2"
    assert answer.now.startswith("shut: the check ended at")


def test_a_reading_that_was_made_to_count_without_a_check_is_found(yard: Yard) -> None:
    gone_through(yard)
    with closing(sqlite3.connect(yard.bench.store)) as connection:
        connection.execute("DROP TRIGGER pass_end_no_delete")
        connection.execute("DELETE FROM pass_end WHERE check_id = 1")
        connection.commit()
    with StoreReader(yard.bench.store) as reader:
        found = regate(reader, 1)
    (answer,) = found.unlike
    assert (answer.then, answer.now) == ("shut: no check", "open by check 1")
