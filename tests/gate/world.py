"""A bench of two meters and three pieces with the oracle beside it: everything that can be done.

Each method is one thing that happens; it tells the desk and the oracle, and holds what the desk
made of it against what the oracle says. `hold` looks at everything that is stored.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from acquire.errors import Misuse
from acquire.model import (
    AmbientRule,
    Bench,
    Certificate,
    CheckPolicy,
    Flag,
    Gap,
    NoticeKind,
    Piece,
    PieceKind,
    PieceRule,
    Quantity,
    StudyKind,
)
from acquire.pipeline.asking import Answer
from acquire.pipeline.desk import Desk
from acquire.pipeline.recorder import Act
from acquire.report.proof.regate import regate
from acquire.report.proof.rejudge import rejudge_all
from acquire.settings import parse_plan
from acquire.store import StoreReader
from acquire.store import rows as r
from acquire.store.verify import verify
from acquire.study.writing import Wanted, study_text
from tests.attack.audit import audit
from tests.gate.oracle import EACH, LIMIT, WANTED, Held, Meter, Oracle, Rules
from tests.yard import TRIAL, Yard, pieces

SERIALS = {"shore": "SH-0417", "deck": "DK-2205"}
WIDE = parse_plan(TRIAL.replace("replicates = 2", "replicates = 90"), "wide trial")
_ON = "an offcut"


def _study(number: int, kind: StudyKind) -> str:
    wanted = Wanted(kind, "shore", Quantity.GLOSS, ("20",), 2, 40, (), _ON)
    return study_text(number, wanted)


STUDY = parse_plan(_study(1, StudyKind.REPEATABILITY), "study")
WARM_UP = parse_plan(_study(2, StudyKind.WARM_UP), "warm-up study")
STAGES = {WIDE: WIDE.stages, STUDY: STUDY.stages, WARM_UP: WARM_UP.stages}
LINE_LIMIT = "0.4"
"""`BENT` is outside of it."""
Sabotage = Callable[[Desk], None]


def _policy(rules: Rules, line_limit: str) -> CheckPolicy:
    def span(least: float, most: float) -> tuple[Decimal, Decimal]:
        return Decimal(str(least)), Decimal(str(most))

    room = AmbientRule(
        rules.known_s,
        span(rules.least_c, rules.most_c),
        Decimal(str(rules.moved_c)),
        span(rules.least_rh, rules.most_rh),
    )
    return CheckPolicy(
        "gloss-20",
        Quantity.GLOSS,
        ("20",),
        "gloss_unit",
        Decimal("0.1"),
        tuple(PieceRule(p, EACH, Decimal(str(LIMIT[p])), Decimal("0.4")) for p in WANTED),
        rules.valid_s,
        valid_for_presses=rules.presses,
        idle_s=rules.idle_s,
        ends_with_sitting=rules.with_sitting,
        warm_up_s=rules.warm_up_s,
        span=rules.span and span(*rules.span),
        linearity_limit=Decimal(line_limit) if rules.is_line_held else None,
        ambient=room if rules.room else None,
    )


def _pieces() -> tuple[Piece, ...]:
    """As the yard's, a tile between them, and all known better."""
    tile, trap = pieces()
    between = replace(
        tile, id="T2", certificates=tuple(replace(c, piece="T2") for c in tile.certificates)
    )

    def known(piece: Piece) -> Piece:
        def better(c: Certificate) -> Certificate:
            value, doubt = Decimal(WANTED[piece.id]), Decimal("0.1")
            return replace(c, value=value, expanded_uncertainty=doubt)

        return replace(piece, certificates=tuple(map(better, piece.certificates)))

    assert trap.kind is PieceKind.BLACK_TRAP
    return known(tile), known(between), known(trap)


class RuledYard(Yard):
    """The yard by these rules; `sabotage` is done to every desk before it opens."""

    line_limit = LINE_LIMIT

    def __init__(self, folder: Path, rules: Rules, sabotage: Sabotage | None) -> None:
        self.rules, self.sabotage = rules, sabotage
        super().__init__(folder)

    def open(self) -> None:
        self.bench = _ruled(self.bench, self.rules, self.line_limit)
        super().open()

    def make_desk(self) -> Desk:
        desk = super().make_desk()
        if self.sabotage is not None:
            self.sabotage(desk)
        return desk


def _ruled(bench: Bench, rules: Rules, line_limit: str) -> Bench:
    specs = tuple(replace(spec, policy=_policy(rules, line_limit)) for spec in bench.instruments)
    return replace(bench, pieces=_pieces(), instruments=specs)


class World:
    """Everything that can happen at a bench, and what it must come to."""

    def __init__(self, folder: Path, rules: Rules, sabotage: Sabotage | None = None) -> None:
        self.yard = RuledYard(folder, rules, sabotage)
        self.oracle = Oracle(rules, {name: Meter() for name in SERIALS})
        self.assigned: set[int] = set()
        self.in_runs: set[int] = set()
        self.is_clock_sound = True
        for name in SERIALS:
            self.plug(name)

    def close(self) -> None:
        self.yard.close()

    def wait(self, seconds: float) -> None:
        self.yard.clock.advance(seconds)

    def tick(self) -> None:
        self.yard.tick()
        self.oracle.let_time_tell(self.yard.clock.now())

    def ask(self, act: Act) -> dict[str, object] | None:
        """What an act answers; None where it is refused."""
        self.oracle.let_time_tell(self.yard.clock.now())
        try:
            return self.yard.act(act)
        except Misuse:
            return None

    # -- the instruments ---------------------------------------------------------------------------

    def plug(self, name: str) -> None:
        if not self.oracle.meters[name].plugged:
            self.yard.plug(name)
            self.oracle.plug(name, self.yard.clock.now())

    def unplug(self, name: str) -> None:
        if self.oracle.meters[name].plugged:
            self.yard.unplug(name)
            self.oracle.lose(name)
            self.oracle.meters[name].plugged = False

    def switch(self, name: str) -> None:
        if self.oracle.meters[name].plugged:
            self.yard.tell(name, NoticeKind.POWER_UP)
            self.oracle.lose(name)
            self.oracle.meters[name].on_since = self.yard.clock.now()

    def adjust(self, name: str, by_person: bool) -> None:
        meter = self.oracle.meters[name]
        if not meter.plugged:
            return
        if not by_person:
            self.yard.tell(name, NoticeKind.ADJUSTED)
        elif self.ask(lambda at: self.yard.acts.checks.readjusted(name, at)) is None:
            assert not meter.is_own, "a person may say of their own meter that it was adjusted"
            return
        self.oracle.adjust(name)

    def name_serial(self, name: str, is_own: bool) -> None:
        meter = self.oracle.meters[name]
        if meter.plugged:
            self.yard.tell(name, NoticeKind.IDENTITY, SERIALS[name] if is_own else "OTHER")
            if is_own != meter.is_own:
                self.oracle.lose(name)
                meter.is_own = is_own

    def lose_bytes(self, name: str) -> None:
        if self.oracle.meters[name].plugged:
            now = self.yard.clock.now()
            self.yard.take_in(name, gap=Gap(name, now, now, 7))
            self.oracle.lose(name)

    def press(self, name: str, value: str, flag: Flag | None = None, channel: str = "20") -> None:
        """A reading comes in, and must find the place that the oracle gives it."""
        if not self.oracle.meters[name].plugged:
            return
        self.wait(0.5)
        now, run = self.yard.clock.now(), self.yard.desk.run
        gone = flag in (Flag.OVER_RANGE, Flag.UNDER_RANGE)
        flags = frozenset() if flag is None else frozenset({flag})
        was = len(self.oracle.told)
        rows = self.yard.press(name, None if gone else value, channel=channel, flags=flags)
        (row,) = (one for one in rows if isinstance(one, r.ReadingRow))
        is_sound = flag is None and channel == "20"
        may = self.oracle.press(name, row.id, value if is_sound else None, now)
        has_place = run is not None and run.instrument == name
        is_unchecked = has_place and run is not None and run.plan.unchecked
        if row.role == "run":
            self.in_runs.add(row.id)
            if is_unchecked and row.unchecked:
                assert is_sound
                self.oracle.unchecked.add(row.id)
            else:
                assert may == "run", f"reading {row.id} counts: {row}"
                held = self.oracle.cover[row.id]
                assert held is not None
                assert row.check_id == held.check_id, "a reading is under another pass"
                self.oracle.take(row.id, now)
        elif row.role == "check":
            assert may == "check", row
        else:
            assert may != "check", row
            assert may != "run" or not has_place or not self.is_clock_sound, row
        if was < len(self.oracle.told):
            self.hold_last_check()

    # -- the person --------------------------------------------------------------------------------

    def begin_check(self, name: str) -> None:
        may = self.oracle.may_begin_check(name, self.yard.clock.now())
        reply = self.ask(lambda at: self.yard.acts.checks.begin(name, at))
        if reply is not None:
            assert may, "a check began that may not"
            self.oracle.begin_check(name, int(str(reply["check_id"])))
        else:
            assert not may or not self.is_clock_sound, "a check may begin and did not"

    def abandon(self, name: str) -> None:
        if self.ask(lambda at: self.yard.acts.checks.abandon(name, at)) is not None:
            self.oracle.break_off(name)

    def whole_check(self, name: str, bad: tuple[tuple[str, int, str], ...] = ()) -> None:
        """A check pressed through; `bad` are (piece, which, value) that read otherwise."""
        self.begin_check(name)
        check = self.oracle.meters[name].check
        if check is None or check.is_touched:
            return
        others = {(piece, which): value for piece, which, value in bad}
        for piece, value in WANTED.items():
            for which in range(EACH):
                self.press(name, others.get((piece, which), value))

    def begin_run(self, plan: object, stage: str, name: str) -> None:
        held = self.oracle.holds(name, self.yard.clock.now())
        chosen = next(one for one in STAGES if one is plan)
        reply = self.ask(lambda at: self.yard.acts.runs.begin(chosen, None, stage, name, at))
        if reply is not None:
            assert held is not None or chosen.unchecked, "a run began without a valid pass"
            rules = self.oracle.rules
            if held is not None and rules.presses is not None and not chosen.unchecked:
                assert len(held.presses) < rules.presses, "a run began under a pass used up"
            self.oracle.sit_down()

    def resume(self) -> None:
        waits = self.yard.desk.interrupted
        reply = self.ask(self.yard.acts.runs.resume)
        if reply is not None and waits is not None:
            held = self.oracle.holds(waits.instrument, self.yard.clock.now())
            assert held is not None or waits.trial.unchecked, "a run went on without a valid pass"
            self.oracle.sit_down()

    def finish(self) -> None:
        self.ask(lambda at: self.yard.acts.runs.finish("", at))

    def move(self, how: str) -> None:
        self.ask(getattr(self.yard.acts.runs, how))

    def void(self, reading_id: int) -> None:
        reply = self.ask(lambda at: self.yard.acts.readings.void(reading_id, "slipped", at))
        if reply is not None:
            self.oracle.void(reading_id)

    def assign(self, reading_id: int, stage: str, zone: str, replicate: int) -> None:
        def act(at: object) -> Answer:
            return self.yard.acts.readings.assign(
                reading_id, "gelcoat", None, zone, stage, replicate, "forgotten",
                self.yard.clock.now(),
            )  # fmt: skip

        if self.ask(act) is not None:
            held = self.oracle.cover.get(reading_id)
            assert held is not None, f"reading {reading_id} was assigned without a valid pass"
            assert self.oracle.bracket(held) != "suspect", "a suspect reading was assigned"
            self.assigned.add(reading_id)
            self.oracle.take(reading_id, held.last_used)

    def close_sitting(self) -> None:
        if self.ask(self.yard.acts.close_sitting) is not None:
            self.oracle.get_up()

    def enter_climate(self, celsius: str, humidity: str | None) -> None:
        def act(at: object) -> Answer:
            rh = None if humidity is None else Decimal(humidity)
            return self.yard.acts.climate.enter(Decimal(celsius), rh, self.yard.clock.now())

        assert self.ask(act) is not None
        rh = None if humidity is None else float(humidity)
        self.oracle.enter(float(celsius), rh, self.yard.clock.now())

    # -- the computer ------------------------------------------------------------------------------

    def jump(self, seconds: float) -> None:
        self.tick()
        self.yard.clock.jump(seconds)
        if abs(seconds) > 2:
            self.oracle.jump()
            self.is_clock_sound = False
        self.yard.tick()
        self.oracle.let_time_tell(self.yard.clock.now())

    def crash(self) -> None:
        self.oracle.restart()
        self.yard.restart()

    # -- what must hold ----------------------------------------------------------------------------

    def hold_last_check(self) -> None:
        """The check that was judged last came to what the oracle says."""
        rows = self.yard.writer.query(
            "SELECT check_id, outcome FROM check_judgement ORDER BY id DESC LIMIT 1"
        )
        _, what, check_id = self.oracle.told[-1]
        assert tuple(rows[0]) == (check_id, what)

    def hold(self) -> None:
        """Everything stored is as the oracle says."""
        places = []
        for row in self.yard.readings("role = 'run'"):
            reading_id = int(str(row["reading_id"]))
            assert reading_id in self.in_runs | self.assigned, row
            held = self.oracle.cover[reading_id]
            is_void = reading_id in self.oracle.voided
            if reading_id in self.oracle.unchecked:
                assert row["bracket"] == "unchecked", row
                assert str(row["trial"]) == WARM_UP.id, row
                state = "unchecked"
            else:
                assert held is not None, row
                assert row["check_id"] == held.check_id, row
                state = self.oracle.bracket(held)
                assert row["bracket"] == state, (row, state)
            counts = not is_void and state != "suspect"
            assert bool(row["counts"]) == counts, (row, counts)
            if row["counts"]:
                assert row["flags"] == ""
                assert row["value"] is not None
                places.append(tuple(row[k] for k in ("trial", "stage", "zone", "replicate")))
        assert len(places) == len(set(places)), "one place holds two readings that count"
        self._hold_presses()

    def _hold_presses(self) -> None:
        lasts = self.oracle.rules.presses
        if lasts is None:
            return
        rows = self.yard.writer.query(
            "SELECT check_id, count(*) AS n FROM readings WHERE role = 'run' AND bracket <> "
            "'unchecked' GROUP BY check_id"
        )
        for row in rows:
            assert row["n"] <= lasts, "more presses count than a pass lasts"

    def hold_all(self) -> None:
        """And every check comes out again, every seal fits, and the gate says the same again."""
        self.hold()
        with StoreReader(self.yard.bench.store) as reader:
            for check in rejudge_all(reader):
                assert check.holds, check
            outcomes = {
                row["check_id"]: row["outcome"]
                for row in reader.rows("SELECT check_id, outcome FROM check_judgement")
            }
            told = {check: what for _, what, check in self.oracle.told if check}
            assert outcomes == told
            assert verify(reader).misfit is None
        assert audit(self.yard.bench.store) == []
        with StoreReader(self.yard.bench.store) as reader:
            for row in reader.rows("SELECT id FROM connection"):
                for answer in regate(reader, row["id"]).unlike:
                    # A clock that was set back later leaves no trace of what came first.
                    was_before = not self.is_clock_sound and answer.reading_id in self.assigned
                    assert was_before, answer

    def held(self, name: str) -> Held | None:
        return self.oracle.holds(name, self.yard.clock.now())
