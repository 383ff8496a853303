"""What the points of a trial rest on, as marks of the store that change when the points may.

The marks of all trials together are a handful of look-ups by index, however many readings there
are: the last reading, void, assignment and rating of a trial, its plan, and of every pass that no
check had closed yet how far the checks and re-adjustments of its meter had come. Writes nothing.
The thread of the reader.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field, replace

from acquire.store.reader import StoreReader

_LAST = {
    "readings": (
        "SELECT t.trial, max(x.last) FROM (SELECT r.trial_id, "
        "(SELECT max(q.id) FROM reading AS q WHERE q.run_id = r.id) AS last FROM run AS r) AS x "
        "JOIN trial AS t ON t.id = x.trial_id GROUP BY t.trial"
    ),
    "voids": (
        "SELECT t.trial, max(v.id) FROM void AS v JOIN reading AS q ON q.id = v.reading_id "
        "LEFT JOIN assignment AS a ON a.reading_id = v.reading_id "
        "JOIN run AS r ON r.id = coalesce(a.run_id, q.run_id) JOIN trial AS t ON t.id = r.trial_id "
        "GROUP BY t.trial"
    ),
    "assignments": (
        "SELECT t.trial, max(a.id) FROM assignment AS a JOIN run AS r ON r.id = a.run_id "
        "JOIN trial AS t ON t.id = r.trial_id GROUP BY t.trial"
    ),
    "ratings": "SELECT trial, max(id) FROM rating GROUP BY trial",
}
_PLANS = "SELECT trial, digest FROM trial WHERE id IN (SELECT max(id) FROM trial GROUP BY trial)"
_METER = (
    "SELECT coalesce((SELECT max(j.id) FROM check_judgement AS j JOIN check_begin AS c "
    "ON c.id = j.check_id WHERE c.serial = ?1), 0), "
    "coalesce((SELECT max(id) FROM notice WHERE kind = 'adjusted' AND serial = ?1), 0)"
)
_REASONS = {
    "plan": "the plan was changed",
    "readings": "readings came in",
    "voids": "a reading was voided",
    "assignments": "a reading was assigned",
    "ratings": "ratings were given",
}


@dataclass(frozen=True, slots=True)
class Marks:
    """How far the store had come with a trial. Numbers are ids of last rows, 0 without any.

    `open_` has for the serial number of each meter with a pass that no check had closed the last
    judgement and the last re-adjustment of that meter.
    """

    plan: str = ""
    readings: int = 0
    voids: int = 0
    assignments: int = 0
    ratings: int = 0
    open_: dict[str, tuple[int, int]] = field(default_factory=dict)

    def text(self) -> str:
        """As it is kept."""
        return json.dumps(asdict(self), sort_keys=True)


def marks_of(text: str) -> Marks | None:
    """Marks as they were kept; None where the text is none."""
    try:
        raw = json.loads(text)
        return Marks(**raw | {"open_": {s: (int(a), int(b)) for s, (a, b) in raw["open_"].items()}})
    except (ValueError, TypeError, KeyError, AttributeError):
        return None


def marks(reader: StoreReader) -> dict[str, Marks]:
    """The marks of every trial, without those of open passes."""
    last = {name: dict(map(tuple, reader.rows(sql))) for name, sql in _LAST.items()}
    return {
        trial: Marks(
            plan,
            last["readings"].get(trial) or 0,
            last["voids"].get(trial) or 0,
            last["assignments"].get(trial) or 0,
            last["ratings"].get(trial) or 0,
        )
        for trial, plan in reader.rows(_PLANS)
    }


def with_open(reader: StoreReader, found: Marks, serials: Iterable[str]) -> Marks:
    """The same with the meters whose passes no check has closed."""
    return replace(found, open_={s: _meter(reader, s) for s in sorted(set(serials))})


def _meter(reader: StoreReader, serial: str) -> tuple[int, int]:
    row = reader.rows(_METER, (serial,))[0]
    return int(row[0]), int(row[1])


class Meters:
    """How far the checks of meters have come, each asked once."""

    def __init__(self, reader: StoreReader) -> None:
        self._reader = reader
        self._known: dict[str, tuple[int, int]] = {}

    def of(self, serial: str) -> tuple[int, int]:
        if serial not in self._known:
            self._known[serial] = _meter(self._reader, serial)
        return self._known[serial]


def changed(before: Marks | None, now: Marks | None, meters: Meters) -> Sequence[str]:
    """Why points that rest on `before` are out of date; empty where they are not."""
    if before is None or now is None:
        return ["what they rest on cannot be read"]
    said = [
        words for name, words in _REASONS.items() if getattr(before, name) != getattr(now, name)
    ]
    if any(meters.of(serial) != kept for serial, kept in before.open_.items()):
        said.append("a check or a re-adjustment of its meter came after")
    return said
