"""A bench on which a tape is played: its bytes come when the test has moved the clock to them.

The instrument, its driver and its profile are those of the tape. No device is there: what the
driver sends is let go. The link is used by the session's thread, the rest by the test's.
"""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

from acquire.clock import ManualClock
from acquire.driverapi import Needs
from acquire.errors import LinkLost, LinkUnavailable, Misuse
from acquire.link.tape import RECEIVED, Passed, Tape, Whose
from acquire.link.tape_file import read_tape
from acquire.model import LinkAddress
from acquire.testkit.bench_file import UNITS, quoted
from acquire.testkit.held_bench import PATIENCE_S, HeldBench, NothingCame


class PacedTape:
    """A link that plays a tape no further than to a moment that it is given; also its opener."""

    def __init__(self, tape: Tape) -> None:
        self.address = f"tape of {tape.where}"
        self.where = tape.where
        self.adapter = tape.whose.adapter if tape.whose else ""
        self._left = list(tape.passed)
        self._reached_ns = tape.opened.utc_ns
        self._changed = threading.Condition()
        self._listens = self._cancelled = self._closed = self._opened = False

    # -- the session's thread --------------------------------------------------------------------

    def open(self) -> PacedTape:
        if self._opened:
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
                if self._left and self._left[0].at.utc_ns <= self._reached_ns:
                    passed = self._left.pop(0)
                    # Where the host spoke nothing came: its time was up, and it comes to speak.
                    return passed.data if passed.direction == RECEIVED else b""
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

    def _has_something(self) -> bool:
        due = bool(self._left) and self._left[0].at.utc_ns <= self._reached_ns
        return due or self._cancelled or self._closed

    # -- the test's thread -----------------------------------------------------------------------

    @property
    def next(self) -> Passed | None:
        """What comes next; None at the end."""
        return self._left[0] if self._left else None

    def reach(self, utc_ns: int) -> None:
        """Let come what came by this moment, and wait until it was dealt with."""
        with self._changed:
            self._reached_ns = utc_ns
            self._cancelled = True
            self._listens = False
            self._changed.notify_all()
            is_done = self._changed.wait_for(
                lambda: self._closed or (self._listens and not self._has_something()), PATIENCE_S
            )
        if not is_done:
            raise NothingCame(
                f"the driver has not dealt with the {self.address} in {PATIENCE_S:g} s"
            )


class TapeBench(HeldBench):
    """The instrument of a tape, and the daemon on it; the clock stands at the tape's opening.

    `advance` plays what came by then, at the very moments at which it came; `play` all the rest.
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
        opened_ns = self.tape.opened.utc_ns
        clock = ManualClock(datetime.fromtimestamp(opened_ns // 10**9, UTC))
        clock.advance((opened_ns - clock.now().utc_ns) / 1e9)
        bench_file = write_bench(folder, self.tape, self.tape.whose, clock.now().utc())
        super().__init__(bench_file, clock, self._opener)
        try:
            self._link.reach(opened_ns)
        except BaseException:
            self.close()
            raise

    def play(self) -> None:
        """Play the tape to its end."""
        if self.tape.passed:
            left_ns = self.tape.passed[-1].at.utc_ns - self.clock.now().utc_ns
            self.advance(max(0, left_ns) / 1e9)

    def _step(self, seconds: float) -> None:
        end_ns = self.clock.now().utc_ns + round(seconds * 1e9)
        while (passed := self._link.next) is not None and passed.at.utc_ns <= end_ns:
            self.clock.advance(max(0, passed.at.utc_ns - self.clock.now().utc_ns) / 1e9)
            self._link.reach(passed.at.utc_ns)
        super()._step((end_ns - self.clock.now().utc_ns) / 1e9)

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
