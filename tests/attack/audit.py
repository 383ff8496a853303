"""An auditor of a finished store: goes through its rows in the order of recording, with the rules.

Takes from the store only what happened (connections, readings, notices, what was entered) and what
was promised then (the policy of each check, the certificates), never what the gate made of it: no
end of a pass, no bracket, no expiry. Gives every fault in words. One-sided: it finds what counts
and may not. Knows instruments of one channel.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

S = 1_000_000_000
Row = Mapping[str, Any]


@dataclass(eq=False)
class Held:
    """A pass, as far as it goes."""

    check_id: int
    serial: str
    policy: Mapping[str, Any]
    opened_ns: int
    used_ns: int
    pieces: dict[str, tuple[Decimal, Decimal]]
    """By piece: what was certified, and the limit."""
    room: Row | None
    certificates: dict[str, Row]
    means: dict[str, Decimal]
    presses: set[object] = field(default_factory=set)


class Audit:
    """One store, row by row."""

    def __init__(self, conn: sqlite3.Connection) -> None:
        self._conn = conn
        self.faults: list[str] = []
        self._held: dict[str, Held] = {}
        self._passes: dict[int, Held] = {}
        self._under_way: dict[str, int] = {}
        self._begun: dict[int, Row] = {}
        self._read: dict[int, dict[int, Row]] = {}
        self._came: dict[int, Row] = {}
        self._cover: dict[int, Held | None] = {}
        self._counting: dict[int, Held | None] = {}
        self._unchecked_runs: set[int] = set()
        self._unchecked_trials: set[int] = set()
        self._certificates: dict[str, Row] = {}
        self._register: list[Row] = []
        self._connected: dict[int, str] = {}
        self._room: Row | None = None
        self._timeline: list[tuple[str, str, int]] = []
        self._void: set[int] = set()

    def run(self) -> list[str]:
        """Every fault of the store."""
        for table, row in self._events():
            act = getattr(self, f"_on_{table}", None)
            if act is not None:
                act(row)
        self._hold_results()
        return self.faults

    def _events(self) -> Iterator[tuple[str, Row]]:
        seals = self._conn.execute("SELECT stretches FROM seal ORDER BY id").fetchall()
        for seal in seals:
            for stretch in filter(None, seal["stretches"].split(", ")):
                table, first, last = stretch.split(" ")
                sql = f"SELECT * FROM {table} WHERE id BETWEEN ? AND ? ORDER BY id"
                for row in self._conn.execute(sql, (int(first), int(last))).fetchall():
                    yield table, dict(row)

    # -- what ends a pass -------------------------------------------------------------------------

    def _on_connection(self, row: Row) -> None:
        self._connected[row["id"]] = row["instrument"]
        self._held.pop(row["instrument"], None)

    def _on_disconnection(self, row: Row) -> None:
        self._held.pop(self._connected[row["connection_id"]], None)

    def _on_notice(self, row: Row) -> None:
        own = self._held.get(row["instrument"])
        is_other = row["kind"] in ("identity", "power-up") and row["text"]
        if row["kind"] in ("power-up", "adjusted") or (
            own and is_other and row["text"] != own.serial
        ):
            self._held.pop(row["instrument"], None)
        if row["kind"] == "adjusted":
            self._timeline.append((row["serial"], "adjusted", 0))

    def _on_gap(self, row: Row) -> None:
        self._held.pop(row["instrument"], None)

    def _on_incident(self, row: Row) -> None:
        if row["kind"] == "clock jumped":
            self._held.clear()
            if self._room is not None:
                # How old the entry is the rows do not tell any more: no fault is made of that.
                self._room = {**self._room, "at_utc_ns": row["at_utc_ns"]}

    def _on_sitting_end(self, _: Row) -> None:
        for name, held in list(self._held.items()):
            if held.policy.get("ends_with_sitting"):
                del self._held[name]

    def _on_climate(self, row: Row) -> None:
        self._room = row

    def _is_over(self, held: Held, at_ns: int) -> bool:
        policy = held.policy
        if not held.opened_ns <= at_ns < held.opened_ns + policy["valid_for_s"] * S:
            return True
        idle_s = policy.get("idle_s")
        if idle_s is not None and at_ns - held.used_ns >= idle_s * S:
            return True
        return policy.get("ambient") is not None and not self._is_room_right(held, at_ns)

    def _is_room_right(self, held: Held, at_ns: int) -> bool:
        rule, room = held.policy["ambient"], self._room
        if room is None or at_ns - room["at_utc_ns"] > rule["known_for_s"] * S:
            return False
        for key in ("temperature_c", "humidity_percent"):
            span, value = rule[key], room[key]
            if span is None:
                continue
            if value is None or not Decimal(span[0]) <= Decimal(value) <= Decimal(span[1]):
                return False
        moved, then = rule["temperature_change_c"], held.room
        if moved is None or then is None:
            return True
        by = abs(Decimal(room["temperature_c"]) - Decimal(then["temperature_c"]))
        return by <= Decimal(moved)

    # -- checks -----------------------------------------------------------------------------------

    def _on_certificate(self, row: Row) -> None:
        if row["quantity"] != "gloss" or row["channel"] != "20":
            return
        self._register.append(row)
        if row["withdrawn"] is not None:
            return
        last = self._certificates.get(row["piece"])
        if last is None or last["issued"] <= row["issued"]:
            self._certificates[row["piece"]] = row

    def _on_check_begin(self, row: Row) -> None:
        self._begun[row["id"]] = row
        self._read[row["id"]] = {}
        self._under_way[row["instrument"]] = row["id"]

    def _on_void(self, row: Row) -> None:
        self._void.add(row["reading_id"])
        for read in self._read.values():
            read.pop(row["reading_id"], None)

    def _on_check_judgement(self, row: Row) -> None:
        begun = self._begun[row["check_id"]]
        name = begun["instrument"]
        if self._under_way.get(name) == row["check_id"]:
            del self._under_way[name]
        policy = json.loads(begun["policy_json"])
        self._timeline.append((begun["serial"], self._found(row, policy), row["check_id"]))
        if row["outcome"] == "pass":
            self._open(row, begun, policy)
        elif self._has_readings(row["check_id"]):
            self._held.pop(name, None)

    def _has_readings(self, check_id: int) -> bool:
        return any(one["check_id"] == check_id for one in self._came.values())

    def _means(self, check_id: int) -> dict[str, tuple[int, Decimal]]:
        values: dict[str, list[Decimal]] = {}
        for one in self._read[check_id].values():
            if one["value"] is None:
                continue
            values.setdefault(one["piece"], []).append(Decimal(one["value"]))
        return {piece: (len(own), sum(own, Decimal(0)) / len(own)) for piece, own in values.items()}

    def _found(self, row: Row, policy: Mapping[str, Any]) -> str:
        """What a check says of what came before: fail, or its pieces with what they read."""
        if row["outcome"] == "fail":
            return "fail"
        means = self._means(row["check_id"])
        said = {
            rule["piece"]: str(means[rule["piece"]][1])
            for rule in policy["rules"]
            if rule["piece"] in means and means[rule["piece"]][0] >= rule["readings"]
        }
        return f"{row['outcome']} {json.dumps(said)}"

    def _open(self, row: Row, begun: Row, policy: Mapping[str, Any]) -> None:
        check_id, means = row["check_id"], self._means(row["check_id"])
        pieces: dict[str, tuple[Decimal, Decimal]] = {}
        today = _day(row["at_utc_ns"])
        for rule in policy["rules"]:
            piece, certificate = rule["piece"], self._certificates.get(rule["piece"])
            count, mean = means.get(piece, (0, Decimal(0)))
            if certificate is None or not certificate["issued"] <= today <= certificate["due"]:
                self._fault(f"check {check_id} passed without a valid certificate of {piece}")
                return
            certified, limit = Decimal(certificate["value"]), Decimal(rule["limit"])
            if count < rule["readings"] or abs(mean - certified) > limit:
                self._fault(
                    f"check {check_id} passed with {count} readings of {piece}, mean {mean}"
                )
                return
            pieces[piece] = certified, limit
        at_ns = row["at_utc_ns"]
        held = Held(
            check_id, begun["serial"], policy, at_ns, at_ns, pieces, self._room,
            {piece: self._certificates[piece] for piece in pieces},
            {piece: means[piece][1] for piece in pieces},
        )  # fmt: skip
        self._held[begun["instrument"]] = self._passes[check_id] = held

    # -- readings ---------------------------------------------------------------------------------

    def _on_trial(self, row: Row) -> None:
        if row["unchecked"]:
            self._unchecked_trials.add(row["id"])

    def _on_run(self, row: Row) -> None:
        if row["trial_id"] in self._unchecked_trials:
            self._unchecked_runs.add(row["id"])

    def _on_reading(self, row: Row) -> None:
        name = row["instrument"]
        self._came[row["id"]] = row
        held = self._held.get(name)
        if held is not None and self._is_over(held, row["at_utc_ns"]):
            del self._held[name]
            held = None
        if name in self._under_way:
            held = None
            if row["role"] == "check":
                self._read[row["check_id"]][row["id"]] = row
        if held is not None and (held.serial != row["serial"] or not _is_covered(held, row)):
            held = None
        self._cover[row["id"]] = held
        if row["role"] == "run":
            self._count(row, row)

    def _on_assignment(self, row: Row) -> None:
        own = self._came[row["reading_id"]]
        if own["role"] != "loose":
            self._fault(f"reading {own['id']} was assigned and is of a {own['role']}")
        self._count(own, row)

    def _count(self, reading: Row, place: Row) -> None:
        """A reading goes into a run, `place` says by which check."""
        number = reading["id"]
        if place["unchecked"]:
            if place["run_id"] not in self._unchecked_runs:
                self._fault(f"reading {number} counts unchecked in a checked trial")
            self._counting[number] = None
            return
        held = self._cover[number]
        if reading["value"] is None or reading["flags"]:
            self._fault(f"reading {number} has no value or a flag and counts")
        if held is None or held.check_id != place["check_id"]:
            self._fault(
                f"reading {number} counts under check {place['check_id']}, which covers it not"
            )
            return
        held.presses.add((reading["connection_id"], reading["at_utc_ns"]))
        held.used_ns = max(held.used_ns, reading["at_utc_ns"])
        lasts = held.policy.get("valid_for_presses")
        if lasts is not None and len(held.presses) > lasts:
            self._fault(f"reading {number} is press {len(held.presses)} of a check for {lasts}")
        self._counting[number] = held

    # -- what counts at the end -------------------------------------------------------------------

    def _hold_results(self) -> None:
        for held in self._passes.values():
            self._take_away(held)
        for row in self._conn.execute("SELECT reading_id, bracket FROM readings WHERE counts = 1"):
            number = row["reading_id"]
            if number in self._void:
                self._fault(f"reading {number} is void and counts")
            if number not in self._counting:
                self._fault(f"reading {number} is in no run and counts")
                continue
            held = self._counting[number]
            if held is not None and held.means.keys() - held.pieces.keys():
                self._fault(f"reading {number} counts by a certificate that was withdrawn")
            if held is not None and self._is_suspect(held):
                self._fault(f"reading {number} counts, and the check after it failed, or none came")
            if held is not None and row["bracket"] == "bracketed" and not self._is_closed(held):
                self._fault(f"reading {number} is bracketed, and no check after it passed")

    def _take_away(self, held: Held) -> None:
        """Hold a pass to what stands at the end in the place of withdrawn certificates."""
        for piece, (_, limit) in list(held.pieces.items()):
            if not self._is_withdrawn(held.certificates[piece]):
                continue
            others = [
                row
                for row in self._register
                if row["piece"] == piece
                and row["issued"] <= _day(held.opened_ns)
                and not self._is_withdrawn(row)
            ]
            other = max(others, key=lambda row: (row["issued"], row["id"]), default=None)
            if other is None or abs(held.means[piece] - Decimal(other["value"])) > limit:
                del held.pieces[piece]
            else:
                held.pieces[piece] = Decimal(other["value"]), limit

    def _is_withdrawn(self, certificate: Row) -> bool:
        """By the last row that has the same figures."""
        figures = ("piece", "value", "expanded_uncertainty", "issued", "due")
        same = [r for r in self._register if all(r[f] == certificate[f] for f in figures)]
        return same[-1]["withdrawn"] is not None

    def _after(self, held: Held) -> list[str]:
        """What the checks after a pass found, up to a re-adjustment."""
        place = next(i for i, one in enumerate(self._timeline) if one[2] == held.check_id)
        after = [what for serial, what, _ in self._timeline[place + 1 :] if serial == held.serial]
        return after[: after.index("adjusted")] if "adjusted" in after else after

    def _is_suspect(self, held: Held) -> bool:
        after = self._after(held)
        for what in after:
            if what == "fail" or self._is_far(held, what):
                return True
            if self._is_good(held, what):
                return False
        return self._is_adjusted(held) and not any(
            held.pieces.keys() <= self._means_of(what).keys() for what in after
        )

    def _is_adjusted(self, held: Held) -> bool:
        place = next(i for i, one in enumerate(self._timeline) if one[2] == held.check_id)
        later = self._timeline[place + 1 :]
        return any(one[:2] == (held.serial, "adjusted") for one in later)

    def _is_closed(self, held: Held) -> bool:
        return any(what.startswith("pass") for what in self._after(held))

    @staticmethod
    def _means_of(what: str) -> dict[str, Decimal]:
        return {p: Decimal(v) for p, v in json.loads(what.partition(" ")[2]).items()}

    def _is_far(self, held: Held, what: str) -> bool:
        """Twice the limit off, by the certificates and limits of then: no doubt explains that."""
        found = self._means_of(what)
        return what.startswith("pass") and any(
            piece in found and abs(found[piece] - certified) > 2 * limit
            for piece, (certified, limit) in held.pieces.items()
        )

    def _is_good(self, held: Held, what: str) -> bool:
        found = self._means_of(what)
        return what.startswith("pass") and all(
            piece in found and abs(found[piece] - certified) <= limit
            for piece, (certified, limit) in held.pieces.items()
        )

    def _fault(self, words: str) -> None:
        self.faults.append(words)


def _is_covered(held: Held, row: Row) -> bool:
    span = held.policy.get("span")
    if row["channel"] not in held.policy["channels"] or row["value"] is None:
        return False
    return span is None or Decimal(span[0]) <= Decimal(row["value"]) <= Decimal(span[1])


def _day(at_ns: int) -> str:
    day: date = datetime.fromtimestamp(at_ns / S, UTC).date()
    return day.isoformat()


def audit(path: Path) -> list[str]:
    """Every fault of a store that nobody writes to, or of what is committed of one."""
    with closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True)) as conn:
        conn.row_factory = sqlite3.Row
        return Audit(conn).run()
