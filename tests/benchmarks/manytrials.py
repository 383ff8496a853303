"""A store of many trials, each of ten thousand readings, with washes, ratings and applications.

All trials but the last are measured to their end and closed; the last one stands before its last
checkpoint. Checks lie around every stage. Every figure is drawn by a seeded generator.
"""

from __future__ import annotations

import itertools
import json
import random
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

from acquire.store import StoreWriter
from acquire.store import rows as r
from acquire.store.check_rows import CheckBeginRow, CheckJudgementRow, PassEndRow, PieceJudgementRow
from acquire.store.register_rows import CertificateRow
from acquire.store.rows import Row
from acquire.store.work_rows import ApplicationRow, RatingRow, TrialClosingRow, WashRow
from tests.yard import policy

ZONES = 20
REPLICATES = 100
STAGES = {"bare": 0, "applied": 0, "wash-5": 5, "wash-10": 10, "wash-20": 20}
READINGS = ZONES * REPLICATES * len(STAGES)
DAY_NS = 86_400 * 10**9
S = 10**9
_ROWS_A_COMMIT = 10_000


def plan_text(trial: str) -> str:
    """The trial file: twenty zones, four treatments and the control, five stages."""
    products = ("none", "tern", "gull", "stilt", "knot")
    treatments = "".join(
        f'[[treatment]]\nid = "{p}"\nname = "{p.title()}"\n'
        + ("control = true\n" if p == "none" else "")
        for p in products
    )
    zones = "".join(
        f'[[zone]]\nid = "Z{n}"\ntreatment = "{products[n % len(products)]}"\n'
        for n in range(ZONES)
    )
    return (
        f'[trial]\nid = "{trial}"\ntitle = "Trial {trial}"\nstages = {json.dumps(list(STAGES))}\n'
        "[trial.washes]\nwash-5 = 5\nwash-10 = 10\nwash-20 = 20\n[trial.cure_hours]\napplied = 12\n"
        f'[panel]\nname = "Panel"\n{treatments}{zones}'
        f'[[measure]]\nid = "gloss20"\nquantity = "gloss"\ngeometry = 20\n'
        f"replicates = {REPLICATES}\n"
        '[[scale]]\nid = "water"\nname = "Water"\nrated = "zone"\nstages = ["wash-5", "wash-10"]\n'
        'steps = ["flat", "drops", "beads"]\ngone_below = 2\n'
    )


def write_trials(
    path: Path, trials: int, now_ns: int, *, closed: bool = True, is_whole: bool = False
) -> int:
    """Write the store; the last trial was worked on today, and is not done unless `is_whole`.

    Gives the number of readings.
    """
    maker = _Maker(now_ns - trials * DAY_NS // 4)
    readings = 0
    for n in range(trials):
        # A daemon of its own for each: nobody records for years without a restart.
        writer = StoreWriter(path)
        try:
            rows = maker.trial(n + 1, is_last=n + 1 == trials and not is_whole, closed=closed)
            while batch := list(itertools.islice(rows, _ROWS_A_COMMIT)):
                readings += sum(isinstance(row, r.ReadingRow) for row in batch)
                writer.append(batch)
        finally:
            writer.close()
    return readings


class _Maker:
    def __init__(self, start_ns: int) -> None:
        self._draw = random.Random(7)
        self._now_ns = start_ns
        self._ids: dict[type[Row], int] = {}
        self._policy = policy()
        self._text = json.dumps(asdict(self._policy), default=str, sort_keys=True)
        self._held: int | None = None

    def _id(self, kind: type[Row]) -> int:
        self._ids[kind] = self._ids.get(kind, 0) + 1
        return self._ids[kind]

    def _tick(self) -> int:
        self._now_ns += S
        return self._now_ns

    def trial(self, n: int, *, is_last: bool, closed: bool) -> Iterator[Row]:
        """One trial after the other; before the first one what the bench has."""
        if n == 1:
            yield from self._bench()
        yield from self._trial(n, is_last=is_last, closed=closed)
        self._now_ns += DAY_NS // 4 - READINGS * S - 100 * S

    def _bench(self) -> Iterator[Row]:
        yield r.InstrumentRow(
            1, self._now_ns, "shore", "gloss", "SH-0417", "line", "gloss-press", "", ""
        )
        yield CertificateRow(
            1, self._now_ns, "T1", "gloss-tile", "gloss", "20", "93.2", "gloss_unit", "0.3", "2",
            "2026-01-31", "2036-01-31", "Harbour Metrology",
        )  # fmt: skip
        yield r.ConnectionRow(1, self._now_ns, 0, "shore", "/dev/shore", "")

    def _trial(self, n: int, *, is_last: bool, closed: bool) -> Iterator[Row]:
        name = f"trial-{n}"
        text = plan_text(name)
        sitting = self._id(r.SittingRow)
        yield r.SittingRow(sitting, self._tick(), "yard")
        yield r.TrialRow(
            self._id(r.TrialRow), self._tick(), name, f"Trial {n}", 0, text, f"{n:064d}"
        )
        trial_id = self._ids[r.TrialRow]
        for k, (stage, washes) in enumerate(STAGES.items()):
            if stage == "applied":
                for z in range(ZONES):
                    if z % 5:
                        yield ApplicationRow(
                            self._id(ApplicationRow), self._tick(), sitting, name, f"Z{z}",
                            self._now_ns - DAY_NS, "4 ml", "3", "",
                        )  # fmt: skip
            before = list(STAGES.values())[k - 1] if k else 0
            for _ in range(washes - before):
                zones = ",".join(f"Z{z}" for z in range(ZONES))
                yield WashRow(
                    self._id(WashRow), self._tick(), sitting, name, zones, 1, "key", None, ""
                )
            if is_last and stage == "wash-20":
                return
            yield from self._check(sitting)
            yield from self._stage(trial_id, stage, sitting)
            if stage in ("wash-5", "wash-10"):
                for z in range(ZONES):
                    yield RatingRow(
                        self._id(RatingRow), self._tick(), sitting, name, stage, "water", f"Z{z}",
                        "tern", "Ada", 1 + z % 3, 0, "",
                    )  # fmt: skip
        yield from self._check(sitting)
        if closed:
            yield TrialClosingRow(self._id(TrialClosingRow), self._tick(), name, 1, "done")

    def _check(self, sitting: int) -> Iterator[Row]:
        reading = self._ids.get(r.ReadingRow, 0)
        check = self._id(CheckBeginRow)
        yield CheckBeginRow(
            check, self._tick(), "shore", "SH-0417", "gloss", "20", sitting, "gloss-20", self._text,
            reading,
        )  # fmt: skip
        if self._held is not None:
            yield PassEndRow(
                self._id(PassEndRow), self._now_ns, self._held, "superseded", "renewed", reading
            )
        self._held = check
        yield PieceJudgementRow(
            self._id(PieceJudgementRow), check, "T1", "20", "pass", 2, "93.2", "0.05", "93.2",
            "0", "0.3", "1.0", "0.5", "gloss_unit", 1, "inside",
        )  # fmt: skip
        yield CheckJudgementRow(
            check, self._tick(), check, "pass", "inside", "run", self._now_ns + 30 * DAY_NS, reading
        )

    def _stage(self, trial_id: int, stage: str, sitting: int) -> Iterator[Row]:
        run = self._id(r.RunRow)
        yield r.RunRow(run, self._tick(), trial_id, "gloss20", stage, "shore", "SH-0417", sitting)
        for z in range(ZONES):
            level = 80 + (z % 5) * (stage != "bare")
            for replicate in range(1, REPLICATES + 1):
                value = round(level + self._draw.gauss(0, 0.2), 1)
                at = self._tick()
                yield r.ReadingRow(
                    self._id(r.ReadingRow), 1, "shore", "SH-0417", at, at, "gloss", "20",
                    str(value), "gloss_unit", str(value), value, "gloss_unit", None, "", b"R", 0, 1,
                    "run", sitting, run, f"Z{z}", stage, replicate, self._held, 0, None, None,
                )  # fmt: skip
        yield r.RunEndRow(self._id(r.RunEndRow), self._tick(), run, 0, "complete")
