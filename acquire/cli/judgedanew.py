"""What the next start of a daemon will judge anew, since a certificate in the bench file was
withdrawn, told before it is done: what is suspect by it stays so, and a figure may be a slip.

It says what hangs on the figures and not what comes of them: whoever could look that up might
enter figures until one pleases. Reads the store; main thread.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from acquire.errors import CoatbenchError
from acquire.model import Certificate, Piece, at_channel
from acquire.report.words.wording import counted
from acquire.units import as_entered, symbol

if TYPE_CHECKING:
    from acquire.store.kept import Kept
    from acquire.store.reader import StoreReader

_WITHDRAWN = re.compile("^[^#\n]*withdrawn", re.MULTILINE)
_RESTING = """SELECT count(DISTINCT p.check_id) AS checks, coalesce(sum((
    SELECT count(*) FROM reading AS q WHERE q.check_id = p.check_id AND q.run_id IS NOT NULL
)), 0) AS readings
FROM (SELECT DISTINCT check_id FROM piece_judgement WHERE certificate_id IN ({marks})) AS p"""


def judged_anew(reader: StoreReader, kept: Kept, pieces: list[Piece], on: date) -> Iterator[str]:
    """A sentence for each certificate whose checks are judged anew at the next start."""
    from acquire.pipeline.register import Register  # noqa: PLC0415 - slow

    register = Register(kept.rows, kept.hashes)
    for piece in pieces:
        for c in (c for c in piece.certificates if c.withdrawn):
            same = [o for o in piece.certificates if _place(o) == _place(c)]
            if not any(_is_news(register, other) for other in same):
                continue
            ids = [
                row.id
                for row in kept.rows
                if (row.piece, row.quantity, row.channel, row.issued)
                == (c.piece, c.quantity.value, c.channel, c.issued.isoformat())
                and Decimal(row.value) == c.value
            ]
            marks = ", ".join("?" * len(ids))
            (found,) = reader.rows(_RESTING.format(marks=marks), ids)
            if found["checks"]:
                yield _told(piece, c, found["checks"], found["readings"], on)


def before_start(file: Path) -> list[str]:
    """The same for a bench file, before a daemon starts with it; a fault of it is the daemon's."""
    try:
        # Nearly every bench file has none, and a start waits for nothing then.
        if not _WITHDRAWN.search(file.read_text("utf-8")):
            return []
    except (OSError, ValueError):
        return []
    from acquire.clock import SystemClock  # noqa: PLC0415 - slow
    from acquire.settings import load_bench  # noqa: PLC0415
    from acquire.store.kept import Kept  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    try:
        bench = load_bench(file)
        with StoreReader(bench.store) as reader:
            today = SystemClock().now().utc().date()
            return list(judged_anew(reader, Kept(reader), list(bench.pieces), today))
    except CoatbenchError:
        return []


def _is_news(register: object, c: Certificate) -> bool:
    from acquire.pipeline.register import Register  # noqa: PLC0415 - slow

    assert isinstance(register, Register)
    row = register.known(c)
    return row is None or (row.withdrawn is None) == bool(c.withdrawn)


def _place(c: Certificate) -> tuple[object, ...]:
    return c.quantity, c.channel


def _told(piece: Piece, c: Certificate, checks: int, readings: int, on: date) -> str:
    other = piece.on(on).certificate(c.quantity, c.channel)
    instead = "nothing, and none of them passes then" if other is None else _value(other)
    return (
        f"{counted(checks, 'check')} and {counted(readings, 'reading')} taken under "
        f"{'it' if checks == 1 else 'them'} rest on the certificate of {c.piece}"
        f"{at_channel(c.channel)} issued {c.issued} ({_value(c)}), which is withdrawn. When the "
        f"daemon starts they are judged anew by what stands in its place: {instead}. What does "
        "not pass by that is suspect, and stays so whatever is entered later: read the new "
        "figures against the paper once more"
    )


def _value(c: Certificate) -> str:
    return f"{as_entered(c.value)} {symbol(c.unit)}".rstrip()
