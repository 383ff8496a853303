"""A store with ten years of daily checks: ten meters, four pieces, three angles each.

Every figure is drawn by a seeded generator. Each meter drifts slowly, steps when its yearly
certificate comes, and is re-adjusted once in a while. One press a piece is stored with each check;
what was pressed at other pieces' names does not matter here.
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from dataclasses import asdict, replace
from decimal import Decimal
from pathlib import Path

from acquire.model import CheckPolicy, PieceRule
from acquire.store import StoreWriter
from acquire.store import rows as r
from acquire.store.check_rows import CheckBeginRow, CheckJudgementRow, PassEndRow, PieceJudgementRow
from acquire.store.register_rows import CertificateRow
from acquire.store.rows import Row
from tests.yard import policy

METERS = 10
CHANNELS = ("20", "60", "85")
CERTIFIED = {"T1": "93.2", "T2": "52.6", "T3": "12.4", "Z0": "0.0"}
KINDS = {"T1": "gloss-tile", "T2": "gloss-tile", "T3": "gloss-tile", "Z0": "black-trap"}
START_NS = 1_451_635_200 * 10**9
"""2016-01-01 08:00 UTC."""
DAY_NS = 86_400 * 10**9
_ROWS_A_COMMIT = 5000


def daily_policy() -> CheckPolicy:
    """One reading of each of the four pieces at the three angles."""
    return replace(
        policy(),
        id="gloss-daily",
        channels=CHANNELS,
        rules=tuple(PieceRule(p, 1, Decimal("1.0"), Decimal("0.5")) for p in CERTIFIED),
    )


def write_decade(path: Path, days: int = 3650, meters: int = METERS) -> int:
    """Write the store; gives the number of judged pieces. The first meter is the yard's."""
    known = [("shore", "SH-0417"), *((f"meter-{i}", f"SN-{i:04d}") for i in range(1, meters))]
    rows = _rows(known, days)
    writer = StoreWriter(path)
    pieces = 0
    batch: list[Row] = []
    try:
        for row in rows:
            batch.append(row)
            pieces += isinstance(row, PieceJudgementRow)
            # A batch ends with the end of a check, so that no row names one that comes later.
            if isinstance(row, CheckJudgementRow) and len(batch) > _ROWS_A_COMMIT:
                writer.append(batch)
                batch = []
        writer.append(batch)
    finally:
        writer.close()
    return pieces


def _rows(meters: list[tuple[str, str]], days: int) -> Iterator[Row]:
    draw = random.Random(20)
    used = daily_policy()
    text = json.dumps(asdict(used), default=str, sort_keys=True)
    certificates = {}
    for i, (name, serial) in enumerate(meters):
        yield r.InstrumentRow(i + 1, START_NS, name, "gloss", serial, "line", "gloss-press", "", "")
        yield r.ConnectionRow(i + 1, START_NS, 0, name, f"/dev/{name}", "")
    yield r.SittingRow(1, START_NS, "decade")
    drift = [draw.uniform(-0.0008, 0.0008) for _ in meters]
    offset = [0.0 for _ in meters]
    check = reading = piece_id = notice = passes = 0
    held: dict[str, int] = {}
    for day in range(days):
        if day % 365 == 0:
            for piece, value in CERTIFIED.items():
                for channel in CHANNELS:
                    number = len(certificates) + 1
                    certificates[piece, channel, day // 365] = number
                    yield CertificateRow(
                        number, START_NS + day * DAY_NS, piece, KINDS[piece], "gloss", channel,
                        value, "gloss_unit", "0.3", "2", "2016-01-01", "2036-01-01",
                        "Harbour Metrology",
                    )  # fmt: skip
        for i, (name, serial) in enumerate(meters):
            at = START_NS + day * DAY_NS + i * 60 * 10**9
            offset[i] += drift[i]
            if abs(offset[i]) > 0.6:
                notice += 1
                offset[i] = draw.gauss(0, 0.05)
                yield r.NoticeRow(
                    notice, i + 1, name, at, "adjusted", "", b"J", 0, 1, serial, reading
                )
            check += 1
            yield CheckBeginRow(
                check, at, name, serial, "gloss", ",".join(CHANNELS), 1, used.id, text, reading
            )
            judged = []
            for rule in used.rules:
                for channel in CHANNELS:
                    reading += 1
                    piece_id += 1
                    certified = Decimal(CERTIFIED[rule.piece])
                    deviation = Decimal(round((offset[i] + draw.gauss(0, 0.08)) * 10)) / 10
                    value = certified + deviation
                    yield r.ReadingRow(
                        reading, i + 1, name, serial, at, at, "gloss", channel, str(value),
                        "gloss_unit", str(value), float(value), "gloss_unit", None, "", b"R", 0,
                        1, "check", 1, None, None, None, None, check, 0, rule.piece, None,
                    )  # fmt: skip
                    judged.append(
                        PieceJudgementRow(
                            piece_id, check, rule.piece, channel, "pass", 1, f"{value:.4f}",
                            "0.0000", str(certified), f"{deviation:.4f}", "0.3050", "1.0", "0.5",
                            "gloss_unit", certificates[rule.piece, channel, day // 365],
                            f"{rule.piece} read {value} GU, {deviation} from its certified "
                            f"{certified} GU; limit 1.0 GU, uncertainty 0.31 GU: inside",
                        )
                    )  # fmt: skip
            if serial in held:
                passes += 1
                yield PassEndRow(passes, at, held[serial], "expired", "too old", reading)
            held[serial] = check
            yield from judged
            yield CheckJudgementRow(
                check, at, check, "pass", "12 of 12 pieces inside their limits",
                "coatbench run FILE STAGE", at + 4 * 3600 * 10**9, reading,
            )  # fmt: skip
