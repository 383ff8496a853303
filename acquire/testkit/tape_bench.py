"""A bench on which a tape is played: its bytes come when the test has moved the clock to them.

The instrument, its driver and its profile are those of the tape. No device is there: what the
driver sends is let go. The link is used by the session's thread, the rest by the test's.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

from acquire.clock import ManualClock
from acquire.driverapi import Needs
from acquire.errors import DriverError, LinkLost, LinkUnavailable, Misuse
from acquire.link.tape import RECEIVED, SENT, Passed, Tape, Whose
from acquire.link.tape_file import read_tape
from acquire.model import LinkAddress
from acquire.report.replay.made import READING
from acquire.testkit.bench_file import UNITS, quoted
from acquire.testkit.held_bench import PATIENCE_S, HeldBench, NothingCame
from acquire.testkit.taped_driver import TapedRegistry


class PacedTape:
    """A link that plays a tape no further than to a moment that it is given; also its opener."""

    def __init__(self, tape: Tape) -> None:
        self.tape = tape
        self.address = f"tape of {tape.where}"
        self.where = tape.where
        self.adapter = tape.whose.adapter if tape.whose else ""
        self._left = deque(tape.passed)
        self._spoken = b""
        self._reached_ns = tape.opened.mono_ns
        self._changed = threading.Condition()
        self._listens = self._cancelled = self._closed = self._opened = self._over = False
        self.has_failed: Callable[[], bool] = lambda: False
        """Whether nobody will deal with anything any more."""

    # -- the session's thread --------------------------------------------------------------------

    def open(self) -> PacedTape:
        if self._opened:
            with self._changed:
                # Whoever comes again has handed over what was left of the time before.
                self._over = True
                self._changed.notify_all()
            raise LinkUnavailable(f"the {self.address} was played", got="its end")
        self._opened = True
        return self

    def read(self, timeout_s: float) -> bytes:
        with self._changed:
            # Whoever asks for more has dealt with what it was given.
            self._listens = True
            self._changed.notify_all()
            try:
                self._changed.wait_for(self._has_something, timeout_s)
                self._cancelled = False
                if self._closed:
                    raise LinkLost(f"the {self.address} is closed", got="closed on this side")
                if self._left and self._left[0].at.mono_ns <= self._reached_ns:
                    passed = self._left.popleft()
                    if passed.direction == RECEIVED:
                        return passed.data
                    # Where the host spoke nothing came: its time was up, and it comes to speak.
                    self._spoken = passed.data
                return b""
            finally:
                self._listens = False

    def write(self, data: bytes) -> None:  # noqa: ARG002 - nobody listens
        if self._closed:
            raise LinkLost(f"the {self.address} is closed", got="closed on this side")

    def cancel(self) -> None:
        with self._changed:
            self._cancelled = True
            self._changed.notify_all()

    def close(self) -> None:
        with self._changed:
            self._closed = True
            self._changed.notify_all()

    def opened_with(self, opening: bytes) -> None:
        """Pass over what the driver was sending as the line was opened."""
        with self._changed:
            first, opened = self.next, self.tape.opened
            if first is not None and first == Passed(SENT, 0, opened, opening):
                self._left.popleft()

    def spoken(self) -> bytes:
        """What was sent at the moment that has just come, once; empty if nothing was."""
        with self._changed:
            said, self._spoken = self._spoken, b""
            return said

    def _has_something(self) -> bool:
        due = bool(self._left) and self._left[0].at.mono_ns <= self._reached_ns
        return due or self._cancelled or self._closed

    # -- the test's thread -----------------------------------------------------------------------

    @property
    def next(self) -> Passed | None:
        """What comes next; None at the end, or where nobody listens any more."""
        return self._left[0] if self._left and not self._closed else None

    def reach(self, mono_ns: int) -> None:
        """Let come what came by this moment, and wait until it was dealt with."""
        with self._changed:
            self._reached_ns = mono_ns
            self._cancelled = True
            self._changed.notify_all()
        self.settle()

    def settle(self) -> None:
        """Wait until all that came, and every wish to be woken, was dealt with."""
        with self._changed:
            is_done = self._changed.wait_for(self._is_settled, PATIENCE_S)
        if not is_done:
            raise NothingCame(
                f"the driver has not dealt with the {self.address} in {PATIENCE_S:g} s"
            )

    def _is_settled(self) -> bool:
        """Whether whoever listens asks for more and nothing is left, or nobody ever will."""
        if self._closed:
            return self._over or self.has_failed()
        return self._listens and not self._has_something()


class TapeBench(HeldBench):
    """The instrument of a tape, and the daemon on it; the clock stands at the tape's opening.

    `advance` plays what came by then, at the very moments at which it came; `play` all the rest.
    Raises `DriverError` where the driver of the tape is not there or does not take its profile.
    """

    def __init__(self, file: Path, folder: Path) -> None:
        self.tape = read_tape(file)
        if self.tape.whose is None:
            raise Misuse(
                f"{file} does not say whose tape it is",
                wanted="a tape with its instrument, as coatbench tape cut makes them",
                next_step="cut it from its store: coatbench tape cut N --out FILE",
            )
        self._link = PacedTape(self.tape)
        clock = ManualClock()
        clock.stand_at(self.tape.opened)
        bench_file = write_bench(folder, self.tape, self.tape.whose, clock.now().utc())
        super().__init__(bench_file, clock, self._opener, TapedRegistry(lambda: self._link))
        self._link.has_failed = lambda: self.daemon.failure is not None
        try:
            if troubles := self.daemon.troubles():
                raise DriverError(f"the {self._link.address} cannot be played: {troubles[0]}")
            self._link.reach(self.tape.opened.mono_ns)
        except BaseException:
            self.close()
            raise

    def play(self) -> None:
        """Play the tape to its end. Raises `NothingCame` where none of its readings came again."""
        tape = self.tape
        ends = [one.at.mono_ns for one in (*tape.passed[-1:], tape.ended) if one is not None]
        left_ns = max(ends, default=0) - self.clock.now().mono_ns
        self.advance(max(0, left_ns) / 1e9)
        then = sum(made.what == READING for made in tape.made)
        if then and not self.readings():
            assert tape.whose is not None
            raise NothingCame(
                f"the {self._link.address} has {then} readings, and its play gave none. "
                f"Next: coatbench replay says where driver {tape.whose.driver} differs"
            )

    def _step(self, seconds: float) -> None:
        clock, link = self.clock, self._link
        end_ns = clock.now().mono_ns + round(seconds * 1e9)
        while (passed := link.next) is not None and passed.at.mono_ns <= end_ns:
            if passed.at.mono_ns >= clock.now().mono_ns:
                clock.stand_at(passed.at)
            link.reach(passed.at.mono_ns)
        super()._step((end_ns - clock.now().mono_ns) / 1e9)
        # Woken alone it may still be about to speak, or to give what waited for a silence.
        link.settle()

    def _opener(self, address: LinkAddress, needs: Needs) -> PacedTape:  # noqa: ARG002
        return self._link


def write_bench(folder: Path, tape: Tape, whose: Whose, now: datetime) -> Path:
    """A bench of the one instrument, with the profile of then and a check that nobody needs."""
    channels = [dict(made.says).get("channel", "") for made in tape.made if made.what == "reading"]
    channel_lines = _channel_lines(whose.kind, [c for c in dict.fromkeys(channels) if c])
    unit = UNITS.get(whose.kind, "percent")
    kind = {"gloss": "gloss-tile", "force": "check-weight"}.get(whose.kind, "neutral-filter")
    policy = [
        f"quantity = {quoted(whose.kind)}",
        *_joined(whose.kind, channel_lines),
        f"unit = {quoted(unit)}",
        "resolution = 0.1",
        "valid_for_s = 3600",
        '[[step]]\npiece = "P1"\nreadings = 3\nlimit = 1\nspread_limit = 1',
    ]
    certificates = [
        "\n".join(
            [
                "[[piece.certificate]]",
                f"quantity = {quoted(whose.kind)}",
                *_joined(whose.kind, [channel] if channel else []),
                f"value = 50\nunit = {quoted(unit)}",
                "expanded_uncertainty = 0.1\ncoverage_factor = 2",
                f"issued = {(now - timedelta(days=90)).date()}",
                f"due = {(now + timedelta(days=275)).date()}",
                'issuer = "Invented calibration laboratory"',
            ]
        )
        for channel in channel_lines or [""]
    ]
    bench = [
        '[bench]\nname = "A tape"\nstore = "tape.sqlite"',
        f"[[instrument]]\nid = {quoted(whose.instrument)}\nkind = {quoted(whose.kind)}",
        f"serial = {quoted(whose.serial)}\ndriver = {quoted(whose.driver)}",
        'profile = "of-the-tape"\npolicy = "of-the-tape"\nlink = { port = "tape" }',
        f'[[piece]]\nid = "P1"\nkind = {quoted(kind)}',
        *certificates,
    ]
    for room, text in (("profiles", whose.profile_text), ("policies", "\n".join(policy))):
        (folder / room).mkdir(parents=True, exist_ok=True)
        (folder / room / "of-the-tape.toml").write_text(text, encoding="utf-8")
    file = folder / "bench.toml"
    file.write_text("\n".join(bench) + "\n", encoding="utf-8")
    return file


def _channel_lines(kind: str, channels: list[str]) -> list[str]:
    if kind == "force":
        return []
    return channels or (["20"] if kind == "gloss" else ["380-780"])


def _joined(kind: str, channels: list[str]) -> list[str]:
    if not channels:
        return []
    word = "geometry" if kind == "gloss" else "band"
    shown = [channel if kind == "gloss" else quoted(channel) for channel in channels]
    return [f"{word} = [{', '.join(shown)}]" if len(shown) > 1 else f"{word} = {shown[0]}"]
