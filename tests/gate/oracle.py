"""What a bench's rules say of every reading, worked out apart from the gate and from the store.

Written from the rules alone: a pass ends when its time is over, when the instrument was unplugged,
switched off, re-adjusted or is another, when the clock jumped, when the room changed or nobody
knows how it is, when its presses are used up or none came for long, with its sitting, and with any
check that did not pass. A closing check brackets what lies before it; one that failed makes that
suspect; a re-adjustment in between breaks the bracket for good, and what was read before it stands
only where a check in between had read every piece steadily. Pure; knows three pieces and a few
values.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from acquire.model import Instant

S = 1_000_000_000

WANTED = {"T1": "93.2", "T2": "48.7", "Z0": "0.0"}
LIMIT = {"T1": 1.0, "T2": 1.5, "Z0": 0.3}
BENT = "49.4"
"""On T2: inside its limit, and off the straight line through the others."""
NEAR = "94.1"
"""On T1: inside its limit, and nearer to it than the check knows."""
EACH = 2


@dataclass(frozen=True)
class Rules:
    """What a policy asks for. Times in seconds, ranges from least to most."""

    valid_s: float = 3000.25
    presses: int | None = None
    idle_s: float | None = None
    with_sitting: bool = False
    warm_up_s: float = 0.0
    span: tuple[float, float] | None = None
    is_line_held: bool = False
    room: bool = False
    known_s: float = 900.25
    least_c: float = 18.0
    most_c: float = 28.0
    moved_c: float = 3.0
    least_rh: float = 20.0
    most_rh: float = 70.0


@dataclass(eq=False)
class Held:
    """A pass: since when, and what has been taken under it."""

    check_id: int
    instrument: str
    opened: Instant
    last_used: Instant
    room_c: float | None
    presses: set[int] = field(default_factory=set)
    is_over: bool = False


@dataclass
class Check:
    """A check under way: what counts, and everything that was found, void or not."""

    check_id: int
    sitting: int
    counting: dict[str, dict[int, str]] = field(default_factory=lambda: {p: {} for p in WANTED})
    found: dict[str, list[str]] = field(default_factory=lambda: {p: [] for p in WANTED})
    voided: set[str] = field(default_factory=set)
    is_touched: bool = False

    @property
    def piece(self) -> str | None:
        return next((p for p in WANTED if len(self.counting[p]) < EACH), None)


@dataclass
class Meter:
    """One instrument."""

    plugged: bool = False
    is_own: bool = True
    on_since: Instant | None = None
    check: Check | None = None
    held: Held | None = None


@dataclass
class Oracle:
    """All that happened, and what it means."""

    rules: Rules
    meters: dict[str, Meter]
    cover: dict[int, Held | None] = field(default_factory=dict)
    """By reading: the pass that covered it as it came, if any."""
    unchecked: set[int] = field(default_factory=set)
    voided: set[int] = field(default_factory=set)
    told: list[tuple[str, str, int]] = field(default_factory=list)
    """(instrument, what, check): pass, fail, undecided, adjusted, in order."""
    read_in_full: set[int] = field(default_factory=set)
    """Checks that read every piece steadily, and the line where one is held."""
    room: tuple[float, float | None, Instant] | None = None
    sitting: int = 0
    is_sitting: bool = False

    # -- what ends a pass ------------------------------------------------------------------------

    def holds(self, name: str, at: Instant) -> Held | None:
        """The pass of an instrument at this moment."""
        self.let_time_tell(at)
        held = self.meters[name].held
        if held is None or held.is_over:
            return None
        return held if at.utc_ns >= held.opened.utc_ns else None

    def let_time_tell(self, at: Instant) -> None:
        for meter in self.meters.values():
            held = meter.held
            if held is not None and self._is_over(held, at):
                self._end(meter)

    def _is_over(self, held: Held, at: Instant) -> bool:
        rules, lasts = self.rules, round(self.rules.valid_s * S)
        if min(at.utc_ns - held.opened.utc_ns, 2**62) >= lasts:
            return True
        if at.mono_ns - held.opened.mono_ns >= lasts:
            return True
        if rules.idle_s is not None and at.mono_ns - held.last_used.mono_ns >= rules.idle_s * S:
            return True
        if not rules.room:
            return False
        if self.room is None or at.mono_ns - self.room[2].mono_ns > rules.known_s * S:
            return True
        return not self._is_room_right(held.room_c)

    def _is_room_right(self, from_c: float | None) -> bool:
        assert self.room is not None
        rules, (celsius, humidity, _) = self.rules, self.room
        if humidity is None or not rules.least_rh <= humidity <= rules.most_rh:
            return False
        if not rules.least_c <= celsius <= rules.most_c:
            return False
        return from_c is None or abs(celsius - from_c) <= rules.moved_c + 1e-9

    @staticmethod
    def _end(meter: Meter) -> None:
        if meter.held is not None:
            meter.held.is_over = True
        meter.held = None

    # -- checks ------------------------------------------------------------------------------------

    def may_begin_check(self, name: str, at: Instant) -> bool:
        self.let_time_tell(at)
        meter, rules = self.meters[name], self.rules
        if not meter.plugged or not meter.is_own or meter.check is not None:
            return False
        assert meter.on_since is not None
        if at.mono_ns - meter.on_since.mono_ns < rules.warm_up_s * S:
            return False
        if not rules.room:
            return True
        if self.room is None or at.mono_ns - self.room[2].mono_ns > rules.known_s * S:
            return False
        return self._is_room_right(None)

    def begin_check(self, name: str, check_id: int) -> None:
        self.sit_down()
        self.meters[name].check = Check(check_id, self.sitting)

    def break_off(self, name: str) -> None:
        """A check that comes to no end: with anything read in it, it ends the pass, too."""
        meter = self.meters[name]
        check, meter.check = meter.check, None
        if check is None:
            return
        is_found = any(
            (len(values) >= EACH and len(set(values)) == 1 and _is_bad(piece, values[0]))
            or _are_all_far(piece, values)
            for piece in WANTED
            for values in (check.found[piece], list(check.counting[piece].values()))
        )
        self.told.append((name, "fail" if is_found else "undecided", check.check_id))
        if check.is_touched:
            self._end(meter)

    def _judge(self, name: str, at: Instant) -> None:
        meter, check = self.meters[name], self.meters[name].check
        assert check is not None
        meter.check = None
        pairs = {piece: list(check.counting[piece].values()) for piece in WANTED}
        alike = {piece: len(set(pair)) == 1 for piece, pair in pairs.items()}
        fails = any(
            (alike[p] and _is_bad(p, pairs[p][0])) or _are_all_far(p, pairs[p]) for p in WANTED
        )
        ends_good = all(pairs[p] == [WANTED[p]] * EACH for p in ("T1", "Z0"))
        is_bent = alike["T2"] and pairs["T2"][0] == BENT and self.rules.is_line_held
        outcome = "undecided"
        if fails or (is_bent and ends_good):
            outcome = "fail"
        elif all(alike.values()) and not is_bent and pairs["T1"][0] != NEAR:
            outcome = "pass"
        self.told.append((name, outcome, check.check_id))
        if all(alike.values()):
            self.read_in_full.add(check.check_id)
        self._end(meter)
        if outcome == "pass":
            celsius = None if self.room is None else self.room[0]
            meter.held = Held(check.check_id, name, at, at, celsius)
            if self.rules.with_sitting and (check.sitting != self.sitting or not self.is_sitting):
                self._end(meter)
            self.let_time_tell(at)

    def void(self, reading_id: int) -> None:
        """A reading was voided: once a piece in a check, and never over a finding."""
        for meter in self.meters.values():
            check = meter.check
            if check is None:
                continue
            for piece, taken in check.counting.items():
                if reading_id in taken:
                    assert piece not in check.voided, "a piece was voided twice in one check"
                    outside = [v for v in check.found[piece] if _is_bad(piece, v)]
                    assert len(outside) < EACH, "a finding was voided"
                    check.voided.add(piece)
                    self.voided |= set(taken)
                    taken.clear()
                    return
        self.voided.add(reading_id)

    # -- readings ----------------------------------------------------------------------------------

    def press(self, name: str, reading_id: int, value: str | None, at: Instant) -> str:
        """A reading came; `value` is None where it can be no result. What it may be: check, run."""
        meter = self.meters[name]
        self.cover[reading_id] = None
        if value is None or not meter.is_own:
            return "loose"
        check = meter.check
        if check is not None:
            self.let_time_tell(at)
            check.is_touched = True
            piece = check.piece
            assert piece is not None
            if _is_of_another(piece, value):
                return "loose"
            check.found[piece].append(value)
            check.counting[piece][reading_id] = value
            if check.piece is None:
                self._judge(name, at)
            return "check"
        held = self.holds(name, at)
        span = self.rules.span
        if held is None or (span is not None and not span[0] <= float(value) <= span[1]):
            return "loose"
        # A loose one may be assigned later, and counts among the presses of its pass from then on.
        self.cover[reading_id] = held
        if self.rules.presses is not None and len(held.presses) >= self.rules.presses:
            return "loose"
        return "run"

    def take(self, reading_id: int, at: Instant) -> None:
        """A reading went into a run under its pass."""
        held = self.cover[reading_id]
        assert held is not None, f"reading {reading_id} counts without a valid pass"
        held.presses.add(reading_id)
        held.last_used = max(held.last_used, at, key=lambda one: one.mono_ns)
        if self.rules.presses is not None:
            assert len(held.presses) <= self.rules.presses, "more presses than a pass lasts"

    # -- the world ---------------------------------------------------------------------------------

    def plug(self, name: str, at: Instant) -> None:
        meter = self.meters[name]
        meter.plugged, meter.is_own, meter.on_since = True, True, at

    def lose(self, name: str) -> None:
        """Unplugged, switched off, another serial number, or bytes were lost."""
        self.break_off(name)
        self._end(self.meters[name])

    def adjust(self, name: str) -> None:
        self.lose(name)
        if self.meters[name].is_own:
            self.told.append((name, "adjusted", 0))

    def jump(self) -> None:
        for name in self.meters:
            self.lose(name)

    def restart(self) -> None:
        self.jump()
        for meter in self.meters.values():
            meter.plugged, meter.is_own = False, True

    def enter(self, celsius: float, humidity: float | None, at: Instant) -> None:
        self.let_time_tell(at)
        self.room = celsius, humidity, at
        self.let_time_tell(at)

    def sit_down(self) -> None:
        if not self.is_sitting:
            self.sitting, self.is_sitting = self.sitting + 1, True

    def get_up(self) -> None:
        self.is_sitting = False
        if self.rules.with_sitting:
            for meter in self.meters.values():
                self._end(meter)

    # -- brackets ----------------------------------------------------------------------------------

    def bracket(self, held: Held) -> str:
        """What came first after a pass: a re-adjustment, a check that passed, one that failed."""
        is_as_found = False
        for name, what, check_id in self._since(held):
            if name != held.instrument:
                continue
            if what == "adjusted":
                return "not closed" if is_as_found else "suspect"
            if what != "undecided":
                return "bracketed" if what == "pass" else "suspect"
            is_as_found |= check_id in self.read_in_full
        return "open"

    def _since(self, held: Held) -> list[tuple[str, str, int]]:
        place = next(i for i, one in enumerate(self.told) if one[2] == held.check_id)
        return self.told[place + 1 :]


def _is_bad(piece: str, value: str) -> bool:
    return abs(float(value) - float(WANTED[piece])) > LIMIT[piece]


def _are_all_far(piece: str, values: list[str]) -> bool:
    """Each outside by more than one reading can be wrong by: certificate, scatter and display.

    Twice the root of 0.05, 0.4 and 0.1 / sqrt(12) squared, as the world's policy has them.
    """
    off = [float(value) - float(WANTED[piece]) for value in values]
    room = LIMIT[piece] + 2 * (0.05**2 + 0.4**2 + 0.1**2 / 12) ** 0.5
    return bool(off) and (min(off) > room or max(off) < -room)


def _is_of_another(piece: str, value: str) -> bool:
    """More than ten limits off its own, within five of another: as the check tells them apart."""
    if abs(float(value) - float(WANTED[piece])) <= 10 * LIMIT[piece]:
        return False
    return any(
        abs(float(value) - float(WANTED[other])) <= 5 * LIMIT[other]
        for other in WANTED
        if other != piece
    )
