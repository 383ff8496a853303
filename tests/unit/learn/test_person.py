"""`coatbench learn` on a port with somebody to ask: a line in memory, and who stands at it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

import pytest

from acquire.cli.learned import told
from acquire.cli.lesson import Lesson
from acquire.cli.saidofmeter import Given
from acquire.clock import ManualClock
from acquire.driverapi import Parity
from acquire.driverapi.registry import Registry
from acquire.errors import LinkLost, LinkUnavailable, Misfortune, Misuse
from acquire.learn import Line, Outcome
from acquire.model import Quantity
from tests.unit.uart import heard

SHOWN = ("91.4", "45.2", "12.0")
LINES = [f"R,{n:04d},60,{value},GU\r\n".encode() for n, value in enumerate(SHOWN, 1)]


class Bench:
    """A meter on a line of its own speed, and the person who presses it and reads its display.

    Implements `acquire.link.base.Link` for the setting it was last opened with; a press comes when
    a press is waited for, and time passes by itself.
    """

    where, adapter = "memory", ""

    def __init__(self, presses: Iterable[bytes], answers: Iterable[str], line: Line) -> None:
        self.clock = ManualClock()
        self.told: list[str] = []
        self.asked: list[str] = []
        self.closed = 0
        self.opened: list[Line] = []
        self._presses: Iterator[bytes] = iter(presses)
        self._answers = iter(answers)
        self._line = line
        self._waiting: list[bytes] = []

    def open(self, line: Line) -> Bench:
        self.opened.append(line)
        return self

    def tell(self, lines: Iterable[str]) -> None:
        for text in lines:
            self.told.append(text)
            if "press the button now" in text:
                data = next(self._presses, b"")
                received = heard(data, self._line, self.opened[-1]) if data else b""
                middle = len(received) // 2
                self._waiting += [part for part in (received[:middle], received[middle:]) if part]

    def ask(self, question: str) -> str:
        self.asked.append(question)
        return next(self._answers)

    def read(self, timeout_s: float) -> bytes:
        if self._waiting:
            self.clock.advance(0.01)
            return self._waiting.pop(0)
        self.clock.advance(timeout_s)
        return b""

    def write(self, data: bytes) -> None:
        raise LinkLost("nothing is ever sent to a meter that is being learned")

    def cancel(self) -> None: ...

    def close(self) -> None:
        self.closed += 1


def lesson(bench: Bench, given: Given | None = None) -> Lesson:
    return Lesson(given or Given(), bench, Registry())


def test_speed_and_format_are_found_while_the_button_is_pressed() -> None:
    sent = Line(19200, 7, Parity.EVEN)
    bench = Bench([LINES[0], *LINES], ["", *SHOWN, "60"], sent)
    found, about = lesson(bench).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert about.line == sent
    assert bench.opened == [Line(9600), Line(19200), sent]
    assert 'parity = "even"' in found.profile
    assert bench.closed == len(bench.opened)


def test_how_far_a_count_goes_is_asked_once_and_asked_again_where_presses_went_further() -> None:
    presses = [b"\xa5" + bytes((n, 1)) + round(float(v) * 10).to_bytes(2) + b"\x0d"
               for n, v in enumerate(SHOWN, 40)]  # fmt: skip
    given = Given(
        Quantity.GLOSS, channel="60", line=Line(9600), least=Decimal(0), most=Decimal(200)
    )
    bench = Bench(presses, [*SHOWN, "many", "35", "99"], Line(9600))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert about.counts_to == 99
    assert "proven_count = 127" in found.profile
    assert sum("How far does it count" in question for question in bench.asked) == 3
    assert any("that cannot be" in text and "a count of 42" in text for text in bench.told)
    bench = Bench(presses, [*SHOWN, ""], Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert "proven_count = 63" in found.profile


def test_a_mistyped_number_is_asked_again() -> None:
    given = Given(line=Line(9600))
    bench = Bench(LINES, ["91.4 GU", "91,4", "45.2", "12.0", "60"], Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert any("that is no number" in text for text in bench.told)


def test_another_press_is_asked_for_only_where_it_would_tell() -> None:
    presses = [bytes.fromhex(h) for h in ("AA00 78 91", "AA00 C9 15", "AA00 5D 77", "AA03 92 3C")]
    answers = ["12.0", "20.1", "9.3", "-5", "150", "91.4", "n"]
    bench = Bench(presses, answers, Line(9600))
    given = Given(Quantity.GLOSS, channel="60", line=Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert any("press that shows a number of 25.6 or more" in text for text in bench.told)
    assert 'type = "int16"' in found.profile


def test_what_the_bytes_do_not_say_is_asked() -> None:
    presses = [f"{value}\r\n".encode() for value in SHOWN]
    bench = Bench(presses, [*SHOWN, "loudness", "force", "pounds", "N", "", ""], Line(9600))
    given = Given(line=Line(9600))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert (about.kind, about.unit) == (Quantity.FORCE, "newton")
    # How it writes numbers below zero no press has shown.
    assert any("below zero, -0.1 or less" in words for words in bench.told)
    # Nor how far it goes: whoever knows says it.
    assert any("What is the largest number it can show, in N?" in words for words in bench.asked)


def test_where_numbers_only_rose_a_lower_one_is_wanted_and_nothing_asked_of_the_display() -> None:
    pressed = ("1.25", "4.80", "12.07", "3.10")
    presses = [
        f"PK {value:>8} AV {other:>8}\r\n".encode()
        for value, other in zip(pressed, ("0.57", "2.20", "6.10", "1.44"), strict=True)
    ]
    bench = Bench(presses, [*pressed, "N", "", ""], Line(9600))
    given = Given(Quantity.FORCE, unit="newton", line=Line(9600))
    lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert any("wanted: a press that shows a number below 12.07" in one for one in bench.told)
    assert not any("below zero, 12.07" in one for one in bench.told)
    assert not any("go down to 12.07" in one for one in bench.asked)


def test_a_band_that_was_mistyped_is_asked_again() -> None:
    presses = [f"{value} %\r\n".encode() for value in SHOWN]
    bench = Bench(presses, [*SHOWN, "uv", "315-400"], Line(9600))
    found, about = lesson(bench, Given(line=Line(9600))).of_port(bench.open, bench.clock, [], 60)
    assert (found.outcome, about.channel) == (Outcome.SURE, "315-400")
    assert any("'uv'" in text for text in bench.told)


def test_which_band_each_word_of_its_lines_is_is_asked_once() -> None:
    words = ("UVA", "VIS", "UVA")
    presses = [f"{word} {value} %\r\n".encode() for word, value in zip(words, SHOWN, strict=True)]
    bench = Bench(presses, [*SHOWN, "315-400", "uv", "380-780", ""], Line(9600))
    found, about = lesson(bench, Given(line=Line(9600))).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE, found.believed
    assert about.bands == (("UVA", "315-400"), ("VIS", "380-780"))
    asked = [question for question in bench.asked if question.startswith("Which band")]
    assert ["'UVA'" in one for one in asked] == [True, False, False]
    assert all("'VIS'" in one for one in asked[1:])


def test_nothing_is_learned_where_nobody_knows_which_band_a_word_is() -> None:
    words = ("UVA", "VIS", "UVA")
    presses = [f"{word} {value} %\r\n".encode() for word, value in zip(words, SHOWN, strict=True)]
    bench = Bench(presses, [*SHOWN, ""], Line(9600))
    found, _ = lesson(bench, Given(line=Line(9600))).of_port(bench.open, bench.clock, [], 60)
    assert (found.outcome, found.missing, found.likely) == (Outcome.UNSAID, "band", "UVA")
    assert not found.profile


def test_how_far_a_force_gauge_goes_is_asked_where_its_bytes_do_not_say_it() -> None:
    presses = [bytes.fromhex(h) for h in ("AA0384 91 0D", "AA01C4 91 0D", "AA0078 91 0D")]
    given = Given(Quantity.FORCE, unit="newton", line=Line(9600))
    bench = Bench(presses, ["90.0", "45.2", "12.0", "2000", ""], Line(9600))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert about.most == 2000
    assert "most = 2000.0\n" in found.profile


def small(*numbers: int) -> list[bytes]:
    return [bytes.fromhex("A5") + number.to_bytes(2, "big", signed=True) for number in numbers]


def test_a_number_beyond_a_limit_that_was_said_is_asked_about_and_nothing_is_lost() -> None:
    given = Given(Quantity.FORCE, unit="newton", least=Decimal(0), line=Line(9600))
    answers = ["9.1", "-1.6", "0", "-100", "12.0", "200", "4.5", "60.0", "", ""]
    bench = Bench(small(91, -16, 120, 45, 600), answers, Line(9600))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert (about.least, about.most) == (Decimal(-100), Decimal(200))
    assert any("-1.6 was shown, and 0 was said to be the least number" in q for q in bench.asked)
    assert any("got 0, and -1.6 came of a press" in words for words in bench.told)


def test_enter_is_no_limit_and_the_lesson_goes_on() -> None:
    """Nobody knows how far the display goes down, and then it shows a number below zero."""
    given = Given(Quantity.FORCE, unit="newton", line=Line(9600))
    answers = ["9.1", "4.5", "12.0", "", "", "y", "-1.6", *[""] * 6]
    bench = Bench(small(91, 45, 120, -16), answers, Line(9600))
    found, about = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE, found.believed
    assert about.least is None
    assert not any("was said to be" in words for words in (*bench.told, *bench.asked))


def test_bytes_that_are_no_text_need_somebody_who_knows_the_speed() -> None:
    presses = [b"\xa5\x5a" + bytes([0, n, 3 * n, 0x9B, 0x17]) for n in range(1, 12)]
    bench = Bench(presses, [""] * 20, Line(9600))
    with pytest.raises(Misuse, match="at which speed") as fault:
        lesson(bench).of_port(bench.open, bench.clock, [], 60)
    assert "--baud" in fault.value.next_step
    assert bench.closed == len(bench.opened)


def test_a_meter_that_stays_silent_is_told() -> None:
    bench = Bench([], [], Line(9600))
    with pytest.raises(Misfortune, match="nothing came"):
        lesson(bench).of_port(bench.open, bench.clock, [], 60)
    assert bench.closed


# A byte that is another one at every press: nobody knows what it may be.
ANY = [bytes.fromhex(h) for h in ("3C7103923E", "3CE201C43E", "3C9B00783E", "3C0502EE3E")]
ANY_SHOWN = ("91.4", "45.2", "12.0", "75.0")


def test_a_profile_that_would_read_next_to_nothing_is_told_and_another_press_asked_for() -> None:
    given = Given(
        Quantity.GLOSS, channel="60", least=Decimal(0), most=Decimal(200), line=Line(9600)
    )
    bench = Bench(ANY, [*ANY_SHOWN[:3], "", ANY_SHOWN[3], "n"], Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE, "the person took it as it is"
    assert any("3 of 3 presses had something beside the number" in text for text in bench.told)
    assert any("Press once more? Enter, or n to take it as it is" in q for q in bench.asked)
    assert any("press 4" in text for text in bench.told)


def test_without_a_person_a_profile_that_would_read_next_to_nothing_is_not_sure() -> None:
    given = Given(
        Quantity.GLOSS, channel="60", least=Decimal(0), most=Decimal(200), line=Line(9600)
    )
    bench = Bench(ANY, [], Line(9600))
    nobody = Lesson(given, None, Registry(), bench.tell)
    shown = [Decimal(text) for text in ANY_SHOWN[:3]]
    found, about = nobody.of_port(bench.open, bench.clock, shown, 60)
    assert (found.outcome, found.is_meagre) == (Outcome.MORE, True)
    with pytest.raises(Misuse, match="most presses to come would be noise") as fault:
        told(found, about, None, "", is_line_known=True)
    assert "press some more times" in fault.value.next_step


def test_where_the_form_of_a_checksum_is_open_the_question_says_so() -> None:
    # Without a carry a sum is an exclusive or, too.
    sent = [(0xA0, number >> 8, number & 0xFF) for number in (860, 328, 532)]
    presses = [bytes((*parts, sum(parts))) for parts in sent]
    given = Given(Quantity.GLOSS, None, "60", Decimal(0), Decimal(100), Line(9600))
    bench = Bench(presses, ["86.0", "32.8", "53.2", "", "", ""], Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.is_proof_open
    assert any("several forms of its checksum fit" in text for text in bench.told)
    assert "its checksum is not used then" in bench.asked[-1]


class Unplugged(Bench):
    """Whose line is lost while the second press is waited for, and is not there at once."""

    def __init__(self, presses: Iterable[bytes], answers: Iterable[str], tries: int = 1) -> None:
        super().__init__(presses, answers, Line(9600))
        self._left = tries
        self._is_out = False

    def tell(self, lines: Iterable[str]) -> None:
        lines = list(lines)
        if any(text.startswith("press 2: press the button now") for text in lines):
            self._is_out = not self.is_back
        if not self._is_out:
            super().tell(lines)

    @property
    def is_back(self) -> bool:
        return any("plug the meter in again" in question for question in self.asked)

    def read(self, timeout_s: float) -> bytes:
        if self._is_out:
            raise LinkLost("the device is gone", next_step="it is found by itself")
        return super().read(timeout_s)

    def open(self, line: Line) -> Bench:
        if self._is_out:
            self._left -= 1
            if self._left >= 0:
                raise LinkUnavailable("there is no device yet")
            self._is_out = False
        return super().open(line)


def test_a_lesson_goes_on_when_the_meter_is_plugged_in_again() -> None:
    bench = Unplugged(LINES, [SHOWN[0], "", "", *SHOWN[1:], "60"])
    given = Given(line=Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    assert [question for question in bench.asked if "the device is gone" in question]
    assert [question for question in bench.asked if "there is no device yet" in question]
    assert bench.closed == len(bench.opened)


def unattended(bench: Bench) -> Lesson:
    return Lesson(Given(Quantity.GLOSS, "gloss_unit", "60", line=Line(9600)), None, Registry(),
                  bench.tell)  # fmt: skip


class Returning(Unplugged):
    """Whose line is there again after some seconds, with nobody to be asked."""

    def __init__(self, presses: Iterable[bytes], after_s: float) -> None:
        super().__init__(presses, [])
        self._after_s, self._gone_s = after_s, 0.0

    def tell(self, lines: Iterable[str]) -> None:
        lines = list(lines)
        super().tell(lines)
        if self._is_out:
            self.told += lines

    def pause(self, seconds: float) -> None:
        self.clock.advance(seconds)
        self._gone_s += seconds

    @property
    def is_back(self) -> bool:
        return self._gone_s >= self._after_s

    def open(self, line: Line) -> Bench:
        if self._is_out and not self.is_back:
            raise LinkUnavailable("there is no device yet")
        self._is_out = False
        return Bench.open(self, line)


def test_where_nobody_is_asked_the_meter_is_waited_for_and_no_press_is_lost() -> None:
    bench = Returning(LINES, 20)
    learner = unattended(bench)
    shown = [Decimal(text) for text in SHOWN]
    found, _ = learner.of_port(bench.open, bench.clock, shown, 60, bench.pause)
    assert found.outcome is Outcome.SURE
    assert bench.closed == len(bench.opened)
    assert [press.shown for press in learner.taken] == shown
    assert [b"".join(c.data for c in press.chunks) for press in learner.taken] == LINES


def test_a_meter_that_does_not_come_back_ends_the_lesson_with_its_presses_kept() -> None:
    bench = Returning(LINES, 61)
    learner = unattended(bench)
    shown = [Decimal(text) for text in SHOWN]
    with pytest.raises(LinkLost) as lost:
        learner.of_port(bench.open, bench.clock, shown, 60, bench.pause)
    assert "no meter again within 60 s" in lost.value.got
    assert [press.shown for press in learner.taken] == [Decimal("91.4")]
    (words,) = [text for text in bench.told if "is kept" in text]
    assert "plug the meter in again within 60 s" in words


class Dead(Returning):
    """Whose port can be opened and read no more."""

    def open(self, line: Line) -> Bench:
        return Bench.open(self, line)


def test_a_port_that_opens_and_is_lost_at_once_is_not_waited_for_forever() -> None:
    bench = Dead(LINES, 1e9)
    shown = [Decimal(text) for text in SHOWN]
    with pytest.raises(LinkLost):
        unattended(bench).of_port(bench.open, bench.clock, shown, 60, bench.pause)
    assert len([text for text in bench.told if "is kept" in text]) == 1


def test_who_does_not_plug_it_in_again_has_pressed_for_the_tape() -> None:
    bench = Unplugged(LINES, [SHOWN[0], "n"])
    learner = lesson(bench, Given(Quantity.GLOSS, line=Line(9600)))
    with pytest.raises(LinkLost) as lost:
        learner.of_port(bench.open, bench.clock, [], 60)
    assert "learn again" in lost.value.next_step
    assert [press.shown for press in learner.taken] == [Decimal("91.4")]


def test_whether_a_number_that_stood_still_can_move_is_asked_once() -> None:
    presses = [f"46;07;{value} GU\r\n".encode() for value in SHOWN]
    bench = Bench(presses, [*SHOWN, "60", "y", ""], Line(9600))
    found, about = lesson(bench, Given(line=Line(9600))).of_port(bench.open, bench.clock, [], 60)
    assert (found.outcome, about.moves) == (Outcome.SURE, {"46"})
    asked = [question for question in bench.asked if "the same at every press" in question]
    assert [question.partition(" ")[0] for question in asked] == ["'46'", "'07'"]


class Early(Bench):
    """Who presses the second time before the first number is typed."""

    def ask(self, question: str) -> str:
        if "What does the display show" in question and len(self.asked) == 0:
            self._waiting.append(next(self._presses))
        return super().ask(question)


def test_a_press_during_the_question_is_said_to_be_the_next_one() -> None:
    bench = Early(LINES, [*SHOWN, "60"], Line(9600))
    given = Given(line=Line(9600))
    found, _ = lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert found.outcome is Outcome.SURE
    (words,) = [text for text in bench.told if text.startswith("press 2:")]
    assert "came before you were told to press, and are taken for it" in words


def test_a_number_is_no_answer_to_yes_or_no() -> None:
    presses = [bytes.fromhex(h) for h in ("AA00 78 91", "AA00 C9 15", "AA00 5D 77", "AA03 92 3C")]
    answers = ["12.0", "20.1", "9.3", "-5", "150", "91.4", "199.9", "n"]
    bench = Bench(presses, answers, Line(9600))
    given = Given(Quantity.GLOSS, channel="60", line=Line(9600))
    lesson(bench, given).of_port(bench.open, bench.clock, [], 60)
    assert bench.asked[-1] == bench.asked[-2]
    assert any("got '199.9', wanted" in text for text in bench.told)


@pytest.mark.parametrize("line", [None, Line(9600)])
@pytest.mark.parametrize("is_asking", [True, False])
def test_a_greeting_is_said_to_be_no_press_and_the_lesson_goes_on(
    line: Line | None, *, is_asking: bool
) -> None:
    bench = Bench([b"    READY\r\n", *LINES], ["", *SHOWN] if line else SHOWN, Line(9600))
    given = Given(Quantity.GLOSS, "gloss_unit", "60", line=line)
    learner = Lesson(given, bench if is_asking else None, Registry(), bench.tell)
    shown = [] if is_asking else [Decimal(text) for text in SHOWN]
    found, about = learner.of_port(bench.open, bench.clock, shown, 60)
    assert found.outcome is Outcome.SURE, found
    assert about.line == Line(9600)
    if not (is_asking and line):
        (words,) = [text for text in bench.told if "READY" in text]
        assert "a text without a number, which is no press" in words


def test_a_text_without_a_number_that_was_left_out_beforehand_takes_its_turn() -> None:
    bench = Bench([b"    READY\r\n", *LINES], [], Line(9600))
    shown = [None, *(Decimal(text) for text in SHOWN)]
    found, _ = unattended(bench).of_port(bench.open, bench.clock, shown, 60)
    assert found.outcome is Outcome.SURE


def test_bytes_at_an_unknown_speed_are_shown_where_nobody_is_asked() -> None:
    bench = Bench([b"\xa5\x5a\x00\x01\x9b"], [], Line(9600))
    learner = Lesson(Given(Quantity.GLOSS), None, Registry(), bench.tell)
    with pytest.raises(Misuse) as fault:
        learner.of_port(bench.open, bench.clock, [Decimal(1)], 60)
    assert "A5 5A 00 01 9B" in fault.value.got


class Torn(Returning):
    """Of whose second press half has come when the line is lost."""

    def tell(self, lines: Iterable[str]) -> None:
        super().tell(lines)
        if self._is_out and not self.is_back and self.told[-1].startswith("press 2: press"):
            self._waiting = [LINES[1][:5]]

    def read(self, timeout_s: float) -> bytes:
        return self._waiting.pop() if self._is_out and self._waiting else super().read(timeout_s)


def test_half_a_press_is_said_to_be_left_out_and_pressed_again() -> None:
    bench = Torn(LINES, 20)
    shown = [Decimal(text) for text in SHOWN]
    found, _ = unattended(bench).of_port(bench.open, bench.clock, shown, 60, bench.pause)
    assert found.outcome is Outcome.SURE
    assert "press 2: it broke off, and is left out: press it again later" in bench.told
    (words,) = [text for text in bench.told if "is kept" in text]
    assert "what is pressed until then is not heard" in words
