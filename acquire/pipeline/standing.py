"""How an instrument stands: its connection, its serial number, its check, and what ended it.

Pure state of one instrument, kept by the desk. The fields change; the facts in them do not.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from acquire.model import UNKNOWN_SERIAL, Ending, Instant, InstrumentSpec, Judgement, Outcome, Pass
from acquire.pipeline.checking import Checking
from acquire.pipeline.climate import Entered
from acquire.pipeline.press import LatestPress
from acquire.pipeline.unread import Unread
from acquire.store.array_rows import TraceRow
from acquire.store.rows import ReadingRow

NOT_TOLD = "it was asked for its serial number and did not tell it"


@dataclass(slots=True)
class Standing:
    """One instrument as the desk knows it now.

    `serial` is what the device last said of itself, or the one of ``bench.toml``. `passed` is the
    latest pass of this daemon's life and `ending` what ended it; `judged` the latest judgement.
    `used` is how many presses were taken under the pass and `used_at` when the last one was;
    `climate` how the room was at the check. `on_since` is when it was connected or switched on.
    `too_wide` are words on limits of its policy that hold nothing, `limits_changed` on those that
    are others than at its last check, until the next one is begun. `trace` is the trace that its
    stream goes on with, from the sample `trace_end` on. `unread` is noise since it was understood.
    `other_rate` are words on a stream that flows at another rate than is declared.
    Presses of before `aimed_ns` (monotonic) belonged elsewhere: a person's act came in between.
    `typed_ns` is when the entry that is typed twice was typed first; None where once is enough.
    """

    spec: InstrumentSpec
    serial: str
    too_wide: tuple[str, ...] = ()
    limits_changed: tuple[str, ...] = ()
    connection_id: int | None = None
    opened_as: str = ""
    since: Instant | None = None
    on_since: Instant | None = None
    message: str = "not connected yet"
    passed: Pass | None = None
    ending: Ending | None = None
    judged: Judgement | None = None
    used: int = 0
    used_at: Instant | None = None
    climate: Entered | None = None
    checking: Checking | None = None
    press: LatestPress = field(default_factory=LatestPress)
    unread: Unread = field(default_factory=Unread)
    other_rate: str = ""
    last: ReadingRow | None = None
    trace: TraceRow | None = None
    trace_end: int = 0
    aimed_ns: int = 0
    typed_ns: int | None = None

    @property
    def connected(self) -> bool:
        return self.connection_id is not None

    @property
    def is_expected_device(self) -> bool:
        return self.serial == self.spec.serial

    def other_words(self) -> str:
        """Why it is not the one that is expected."""
        if self.serial == UNKNOWN_SERIAL:
            return NOT_TOLD
        return f"serial {self.serial} answers where {self.spec.serial} is expected"

    def open(self, passed: Pass, climate: Entered | None) -> None:
        """A check has passed: nothing is taken under it yet."""
        self.passed, self.ending = passed, None
        self.used, self.used_at = 0, passed.opened
        self.climate = climate

    def take(self, at: Instant) -> None:
        """A press was taken under the pass."""
        self.used += 1
        self.used_at = at

    def no_run_words(self) -> str:
        """Why a reading finds no run; after a check that did not pass none can be begun."""
        judged = self.judged
        if judged is None or judged.outcome is Outcome.PASS:
            return "no run is open for this instrument"
        said = "failed" if judged.outcome is Outcome.FAIL else "did not come to a pass"
        return f"no run is open: the last check of {self.spec.id} {said}"
