"""The bell: once for accepted, twice for not accepted, and never in the way."""

from __future__ import annotations

from acquire.clock import ManualClock
from acquire.live.bell import APART_S, Bell
from acquire.live.story import Happening
from acquire.live.tone import Tone


class Strokes:
    """Counts the strokes of a bell on a clock that is moved by hand."""

    def __init__(self) -> None:
        self.count = 0
        self.clock = ManualClock()
        self.bell = Bell(self._stroke)

    def _stroke(self) -> None:
        self.count += 1

    def hear(self, *tones: tuple[Tone, str]) -> int:
        """Strokes at once after these happenings came together."""
        before = self.count
        happenings = [Happening("", "", "", tone, table) for tone, table in tones]
        self.bell.hear(happenings, self.clock.now())
        return self.count - before

    def after(self, seconds: float) -> int:
        """Strokes that became due meanwhile."""
        before = self.count
        self.bell.tick(self.clock.advance(seconds))
        return self.count - before


ACCEPTED = (Tone.ACCEPTED, "reading")
REFUSED = (Tone.REFUSED, "reading")
NOISE = (Tone.REFUSED, "noise")


def test_accepted_is_one_stroke() -> None:
    strokes = Strokes()
    assert strokes.hear(ACCEPTED) == 1
    assert strokes.after(1) == 0


def test_not_accepted_is_two_strokes_a_little_apart() -> None:
    strokes = Strokes()
    assert strokes.hear(REFUSED) == 1
    assert strokes.after(APART_S / 2) == 0
    assert strokes.after(APART_S) == 1
    assert strokes.after(1) == 0


def test_the_angles_of_one_press_are_one_signal_and_a_refusal_wins() -> None:
    strokes = Strokes()
    assert strokes.hear(ACCEPTED, ACCEPTED, ACCEPTED) == 1
    assert strokes.hear(ACCEPTED, REFUSED) == 1
    assert strokes.after(1) == 1


def test_a_pass_that_ends_is_heard_and_other_trouble_is_only_shown() -> None:
    strokes = Strokes()
    assert strokes.hear((Tone.TROUBLE, "incident")) == 0
    assert strokes.hear((Tone.PLAIN, "note")) == 0
    assert strokes.hear((Tone.TROUBLE, "pass_end")) == 1
    assert strokes.after(1) == 1


def test_a_pass_that_a_new_one_takes_over_is_no_alarm() -> None:
    strokes = Strokes()
    assert strokes.hear(ACCEPTED, (Tone.PLAIN, "pass_end")) == 1
    assert strokes.after(1) == 0


def test_noise_is_an_alarm_at_its_beginning_and_not_a_drum() -> None:
    strokes = Strokes()
    assert strokes.hear(NOISE) == 1
    assert strokes.after(1) == 1
    for _ in range(20):
        assert strokes.hear(NOISE) == 0
        assert strokes.after(0.5) == 0
    strokes.after(3)
    assert strokes.hear(NOISE) == 1


def test_an_acceptance_between_the_two_strokes_does_not_make_three() -> None:
    strokes = Strokes()
    strokes.hear(REFUSED)
    assert strokes.hear(ACCEPTED) == 0
    assert strokes.after(1) == 1


def test_a_quiet_bell_is_silent() -> None:
    bell, clock = Bell(None), ManualClock()
    bell.hear([Happening("", "", "", Tone.REFUSED, "reading")], clock.now())
    bell.tick(clock.advance(1))
