"""No call, in any order, lets a reading count without a valid pass.

A machine drives checks, expiries, unplugs, drifts, runs, voids, assignments, restarts, clock jumps
and raw control calls in random order on a real store. Beside it runs a model that is far simpler
than the desk: it only remembers, instrument by instrument, whether a pass holds at this moment. The
invariant is that every reading in any result arrived while the model held a pass.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from acquire.control.calls import NAMES, act_of
from acquire.errors import CoatbenchError
from acquire.model import Flag, NoticeKind
from acquire.settings import parse_plan
from tests.yard import TRIAL, Yard

INSTRUMENTS = st.sampled_from(["shore", "shore", "shore", "deck"])
SERIALS = {"shore": "SH-0417", "deck": "DK-2205"}
VALID_FOR_S = 600.0
# Room enough that a run is seldom full: a full run takes nothing and hides what would slip through.
WIDE = TRIAL.replace("replicates = 2", "replicates = 40")
PLAN = parse_plan(WIDE, "wide trial")

_PLAIN = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-3, 40),
    st.sampled_from(["shore", "deck", "A1", "A2", "bare", "cured", "gelcoat", WIDE, "", "x"]),
)
_ARGUMENTS = st.dictionaries(
    st.sampled_from(
        ["instrument", "text", "source", "measure", "stage", "zone", "replicate", "reading_id",
         "reason", "trial", "why", "unchecked", "force", "check_id"]
    ),
    _PLAIN,
    max_size=8,
)  # fmt: skip


_WANTED = {"T1": "93.2", "Z0": "0.0"}
_LIMITS = {"T1": 1.0, "Z0": 0.3}


class Check:
    """What the model knows of a check under way: two readings of the tile, then two of the trap."""

    def __init__(self) -> None:
        self.counting: dict[str, dict[int, str]] = {"T1": {}, "Z0": {}}
        self.found: dict[str, list[str]] = {"T1": [], "Z0": []}
        self.voided: set[str] = set()

    @property
    def piece(self) -> str:
        return "T1" if len(self.counting["T1"]) < 2 else "Z0"

    @property
    def is_full(self) -> bool:
        return all(len(taken) == 2 for taken in self.counting.values())

    @property
    def passes(self) -> bool:
        return all(v == _WANTED[p] for p, t in self.counting.items() for v in t.values())

    @property
    def is_touched(self) -> bool:
        return any(self.found.values())

    def take(self, reading_id: int, value: str) -> None:
        self.found[self.piece].append(value)
        self.counting[self.piece][reading_id] = value

    def void(self, reading_id: int) -> None:
        """A reading was voided, which is right once a piece and never over a finding."""
        for piece, taken in self.counting.items():
            if reading_id in taken:
                assert piece not in self.voided, "a piece was voided twice in one check"
                wanted, limit = float(_WANTED[piece]), _LIMITS[piece]
                outside = [v for v in self.found[piece] if abs(float(v) - wanted) > limit]
                assert len(outside) < 2, "a finding was voided"
                self.voided.add(piece)
                taken.clear()


def in_work(machine: GateMachine) -> bool:
    """A run is open under a valid pass: only then is there something to break."""
    return machine.yard.desk.run is not None and machine.yard.desk.run.instrument in machine.until


class GateMachine(RuleBasedStateMachine):
    """The desk under a hostile hand."""

    @initialize()
    def set_up(self) -> None:
        self._folder = tempfile.TemporaryDirectory()
        self.yard = Yard(Path(self._folder.name), valid_for_s=VALID_FOR_S)
        self.until: dict[str, float] = {}
        self.mono = 0.0
        self.wall_shift = 0.0
        self.serial = dict(SERIALS)
        self.checking: dict[str, Check] = {}
        self.covered: set[int] = set()
        self.misplaced: set[str] = set()
        self.plugged: set[str] = set()
        self.get_going("bare", 1)

    def teardown(self) -> None:
        if hasattr(self, "yard"):
            self.yard.close()
            self._folder.cleanup()

    # -- what the model knows ----------------------------------------------------------------------

    def holds(self, instrument: str) -> bool:
        return self.mono < self.until.get(instrument, -1.0)

    def end(self, instrument: str) -> None:
        self.until.pop(instrument, None)
        self.checking.pop(instrument, None)

    def advance(self, seconds: float) -> None:
        self.mono += seconds
        self.yard.clock.advance(seconds)

    def try_act(self, make: object) -> bool:
        try:
            self.yard.act(make)  # type: ignore[arg-type]
        except CoatbenchError:
            return False
        return True

    def is_fresh(self, instrument: str) -> bool:
        """Whether a check is under way without a reading."""
        return instrument in self.checking and not self.checking[instrument].is_touched

    # -- the world ---------------------------------------------------------------------------------

    @rule(instrument=INSTRUMENTS)
    def plug(self, instrument: str) -> None:
        if instrument not in self.plugged:
            self.yard.plug(instrument)
            self.plugged.add(instrument)
            self.serial[instrument] = SERIALS[instrument]

    @precondition(in_work)
    @rule(instrument=INSTRUMENTS)
    def unplug(self, instrument: str) -> None:
        if instrument in self.plugged:
            self.yard.unplug(instrument)
            self.plugged.discard(instrument)
            self.end(instrument)

    @precondition(in_work)
    @rule(
        instrument=INSTRUMENTS,
        kind=st.sampled_from([NoticeKind.POWER_UP, NoticeKind.ADJUSTED, NoticeKind.TROUBLE]),
    )
    def tell(self, instrument: str, kind: NoticeKind) -> None:
        if instrument in self.plugged:
            self.yard.tell(instrument, kind)
            if kind is not NoticeKind.TROUBLE:
                self.end(instrument)

    @precondition(in_work)
    @rule(instrument=INSTRUMENTS, other=st.booleans())
    def name_serial(self, instrument: str, other: bool) -> None:
        if instrument in self.plugged:
            serial = "OTHER" if other else SERIALS[instrument]
            self.yard.tell(instrument, NoticeKind.IDENTITY, serial)
            if serial != self.serial[instrument]:
                self.serial[instrument] = serial
                self.end(instrument)

    @precondition(in_work)
    @rule(seconds=st.sampled_from([0.1, 1.0, 30.0, 299.0, 600.0]))
    def wait(self, seconds: float) -> None:
        self.advance(seconds)

    @rule()
    def tick(self) -> None:
        self.yard.tick()

    @precondition(in_work)
    @rule(seconds=st.sampled_from([-7200.0, -3.0, 1.0, 3.0, 5.0, 7200.0]))
    def jump(self, seconds: float) -> None:
        self.yard.clock.jump(seconds)
        self.yard.tick()
        if abs(seconds) > 2:
            for instrument in SERIALS:
                self.end(instrument)
        else:
            # A step too small to matter shifts the wall clock under the pass, by that little.
            self.until = {k: v - seconds for k, v in self.until.items()}

    @precondition(in_work)
    @rule()
    def crash(self) -> None:
        self.yard.restart()
        for instrument in SERIALS:
            self.end(instrument)
        self.plugged.clear()
        self.serial = dict(SERIALS)

    @precondition(lambda self: self.plugged)
    @rule(
        instrument=INSTRUMENTS,
        value=st.sampled_from(["93.2", "0.0", "80.1", "95.6", "94.1"]),
        flag=st.sampled_from([None, None, None, *Flag]),
        channel=st.sampled_from(["20", "20", "20", "60"]),
    )
    def press(self, instrument: str, value: str, flag: Flag | None, channel: str) -> None:
        if instrument not in self.plugged:
            return
        self.advance(0.5)
        gone = flag in (Flag.OVER_RANGE, Flag.UNDER_RANGE)
        rows = self.yard.press(
            instrument,
            None if gone else value,
            channel=channel,
            flags=frozenset() if flag is None else frozenset({flag}),
        )
        reading_id = self.yard.readings()[-1]["reading_id"]
        assert isinstance(reading_id, int)
        assert rows
        expected_device = self.serial[instrument] == SERIALS[instrument]
        if instrument in self.checking:
            if flag is None and channel == "20" and expected_device:
                check = self.checking[instrument]
                is_small = float(value) < 5
                if (check.piece == "T1") == is_small and value in ("0.0", "93.2", "95.6", "94.1"):
                    # Near the other piece, far from this one: the wrong piece is under the meter.
                    self.misplaced.add(instrument)
                    return
                check.take(reading_id, value)
                if check.is_full:
                    self.end(instrument)
                    if check.passes:
                        self.until[instrument] = self.mono + VALID_FOR_S
        elif self.holds(instrument) and flag is None and channel == "20" and expected_device:
            self.covered.add(reading_id)

    # -- the person, and the hostile hand ----------------------------------------------------------

    @precondition(in_work)
    @rule(instrument=INSTRUMENTS)
    def begin_check(self, instrument: str) -> None:
        if self.try_act(lambda at: self.yard.acts.checks.begin(instrument, at)):
            self.checking[instrument] = Check()
            self.misplaced.discard(instrument)

    @precondition(in_work)
    @rule(instrument=INSTRUMENTS, bad=st.sampled_from([None, 0, 1, 3]), presses=st.integers(0, 2))
    def check_at_work(self, instrument: str, bad: int | None, presses: int) -> None:
        """A check in the middle of a run, and the person presses on whatever it found."""
        self.whole_check(instrument, bad)
        for _ in range(presses):
            self.press("shore", "80.3", None, "20")

    def whole_check(self, instrument: str, bad: int | None) -> None:
        self.begin_check(instrument)
        if self.is_fresh(instrument):
            for i, value in enumerate(["93.2", "93.2", "0.0", "0.0"]):
                self.press(instrument, "95.6" if i == bad else value, None, "20")

    @rule(instrument=INSTRUMENTS)
    def abandon_check(self, instrument: str) -> None:
        if self.try_act(lambda at: self.yard.acts.checks.abandon(instrument, at)):
            if self.checking[instrument].is_touched or instrument in self.misplaced:
                self.end(instrument)
            self.checking.pop(instrument, None)

    @rule(instrument=INSTRUMENTS, stage=st.sampled_from(["bare", "cured"]))
    def begin_run(self, instrument: str, stage: str) -> None:
        held = self.holds(instrument)
        begun = self.try_act(
            lambda at: self.yard.acts.runs.begin(PLAN, None, stage, instrument, at)
        )
        assert held or not begun, "a run began without a valid pass"

    @rule(stage=st.sampled_from(["bare", "cured"]), presses=st.integers(0, 8))
    def get_going(self, stage: str, presses: int) -> None:
        """An honest stretch of work, so that there is something to break."""
        for instrument in SERIALS:
            self.plug(instrument)
        self.name_serial("shore", False)
        if "shore" in self.checking:
            self.abandon_check("shore")
        self.whole_check("shore", None)
        self.resume()
        self.begin_run("shore", stage)
        for _ in range(presses):
            self.press("shore", "80.1", None, "20")

    @rule(presses=st.integers(1, 3))
    def press_on(self, presses: int) -> None:
        self.plug("shore")
        for _ in range(presses):
            self.press("shore", "80.2", None, "20")

    @precondition(in_work)
    @rule(value=st.sampled_from(["93.2", "95.6"]))
    def break_a_check_off(self, value: str) -> None:
        self.begin_check("shore")
        if self.is_fresh("shore"):
            self.press("shore", value, None, "20")
            self.abandon_check("shore")
            self.press("shore", "80.3", None, "20")

    @rule()
    def resume(self) -> None:
        self.try_act(self.yard.acts.runs.resume)

    @precondition(in_work)
    @rule()
    def finish(self) -> None:
        self.try_act(lambda at: self.yard.acts.runs.finish("", at))

    @rule(act=st.sampled_from(["skip", "back"]))
    def move(self, act: str) -> None:
        self.try_act(getattr(self.yard.acts.runs, act))

    @rule(reading=st.integers(1, 60))
    def void(self, reading: int) -> None:
        if self.try_act(lambda at: self.yard.acts.readings.void(reading, "slipped", at)):
            for check in self.checking.values():
                check.void(reading)

    def void_last_of_check(self, instrument: str) -> None:
        """The last reading of the check under way, whatever it is."""
        check = self.checking.get(instrument)
        ids = [i for taken in check.counting.values() for i in taken] if check else []
        if ids:
            self.void(max(ids))

    @precondition(in_work)
    @rule(
        presses=st.lists(
            st.tuples(st.sampled_from(["93.2", "93.2", "0.0", "80.1", "95.6"]), st.booleans()),
            max_size=8,
        ),
        breaks_off=st.booleans(),
    )
    def check_with_voids(self, presses: list[tuple[str, bool]], breaks_off: bool) -> None:
        """A check in which the person voids whatever they do not like, and then presses on."""
        self.begin_check("shore")
        for value, is_voided in presses:
            self.press("shore", value, None, "20")
            if is_voided:
                self.void_last_of_check("shore")
        if breaks_off:
            self.abandon_check("shore")
        self.press("shore", "80.3", None, "20")

    @rule(
        reading=st.integers(1, 60),
        zone=st.sampled_from(["A1", "A2"]),
        stage=st.sampled_from(["bare", "cured"]),
        replicate=st.sampled_from([1, 2]),
    )
    def assign(self, reading: int, zone: str, stage: str, replicate: int) -> None:
        self.try_act(
            lambda at: self.yard.acts.readings.assign(
                reading, "gelcoat", None, zone, stage, replicate, "forgotten", at
            )
        )

    @rule(name=st.sampled_from(NAMES), arguments=_ARGUMENTS)
    def raw_call(self, name: str, arguments: dict[str, object]) -> None:
        try:
            act = act_of(self.yard.acts, name, arguments)
        except CoatbenchError:
            return
        if self.try_act(act):
            instrument = str(arguments.get("instrument"))
            if name == "begin_check":
                self.checking[instrument] = Check()
                self.misplaced.discard(instrument)
            elif name == "abandon_check":
                if self.checking[instrument].is_touched or instrument in self.misplaced:
                    self.end(instrument)
                self.checking.pop(instrument, None)
            elif name == "void":
                for check in self.checking.values():
                    check.void(int(str(arguments["reading_id"])))

    # -- the invariant -----------------------------------------------------------------------------

    @invariant()
    def nothing_counts_without_a_valid_pass(self) -> None:
        if not hasattr(self, "yard"):
            return
        for found in self.yard.readings("counts = 1 OR role = 'run'"):
            assert found["reading_id"] in self.covered, found
            assert found["check_id"] is not None
            assert found["flags"] == ""
            assert found["value"] is not None
        places = [
            (f["trial"], f["stage"], f["zone"], f["replicate"], f["channel"])
            for f in self.yard.readings("counts = 1")
        ]
        assert len(places) == len(set(places)), "one place holds two readings that count"


GateMachine.TestCase.settings = settings(
    max_examples=int(os.environ.get("COATBENCH_EXAMPLES", "30")),
    stateful_step_count=60,
    deadline=None,
    derandomize=True,
)
TestTheGateUnderAHostileHand = GateMachine.TestCase
