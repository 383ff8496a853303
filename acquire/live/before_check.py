"""What a check, or the word that a meter was re-adjusted, will do to the work at hand. In words.

Reads the status and the store; never writes. Any thread, with a reader of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from sqlite3 import Row
from typing import Any

from acquire.live.words import clean, times
from acquire.store.reader import StoreReader
from acquire.store.views import AS_FOUND

_UNCLOSED = f"""
SELECT b.check_id, count(*) AS readings, {AS_FOUND.format(until=2**63 - 1)} AS is_read
FROM (SELECT max(c.id) AS id FROM check_begin AS c JOIN check_judgement AS j ON j.check_id = c.id
      WHERE c.serial = ?1 AND c.instrument = ?2 AND j.outcome = 'pass') AS latest
JOIN brackets AS b ON b.check_id = latest.id AND b.state = 'open'
JOIN check_begin AS p ON p.id = latest.id
JOIN (SELECT q.id, q.check_id FROM reading AS q WHERE q.role = 'run'
      UNION ALL SELECT a.reading_id, a.check_id FROM assignment AS a) AS r
  ON r.check_id = latest.id AND NOT EXISTS (SELECT 1 FROM void AS v WHERE v.reading_id = r.id)
GROUP BY b.check_id"""  # noqa: S608 - our own text


LEAVES = "it ends the pass that it was to renew, since something was read in it"


def ends_a_pass(own: Mapping[str, Any]) -> bool:
    """Whether breaking off the check of an instrument, as the status has it, ends a pass."""
    return bool(own["checking"]["begun"] and own["check"]["valid"])


def abandoning(own: Mapping[str, Any], taken: str) -> str:
    """What comes of breaking off the check of an instrument; empty where nothing does.

    `taken` are the readings that no later check has closed, in words; empty for none.
    """
    checking = own["checking"]
    if not checking["outside"]:
        return LEAVES if ends_a_pass(own) else ""
    name = clean(own["id"])
    suspect = f", and {taken} become suspect and leave the results for good" if taken else ""
    return (
        f"the check of {name} will be judged by what was read: "
        f"{clean('; '.join(checking['outside']))}. So it fails{suspect}. A press that slipped is "
        f"taken out first (v on the screen of the check, coatbench void --last), and its piece "
        f"read anew; else coatbench check {name} goes on with it"
    )


def at_stake(store: StoreReader, status: Mapping[str, Any], instrument: str) -> str:
    """``4 readings taken since check 1``: those that no check has closed; empty for none."""
    found = _unclosed(store, status, instrument)
    return "" if found is None else _taken(found)


def run_waits(status: Mapping[str, Any], instrument: str) -> str:
    """What becomes of a run of this instrument while it is checked; empty where it has none."""
    run, name = status.get("run"), clean(instrument)
    if run is not None and run["instrument"] == instrument:
        what = (
            f"run {run['run_id']} ({clean(run['trial'])}, {clean(run['stage'])}) waits with "
            f"{run['slots_left']} of {times(run['slots_total'], 'place')} open"
        )
    elif (run := status.get("interrupted")) is not None and run["instrument"] == instrument:
        what = (
            f"run {run['run_id']} ({clean(run['trial'])}, {clean(run['stage'])}), which is "
            "interrupted, waits"
        )
    else:
        return ""
    return (
        f"{what} while {name} is checked, and goes on after a pass (coatbench run --resume); "
        f"coatbench check {name} --abandon leaves the check, and with readings in it ends the pass "
        "before it, too"
    )


def left_unclosed(store: StoreReader, status: Mapping[str, Any], instrument: str) -> str:
    """What a re-adjustment now would do to readings without a closing check; empty for none."""
    found = _unclosed(store, status, instrument)
    if found is None:
        return ""
    taken, name = _taken(found), clean(instrument)
    one = found["readings"] == 1
    if found["is_read"]:
        stands = "it stands" if one else "they stand"
        return (
            f"{taken} {'gets' if one else 'get'} no closing check by this: {stands} as not closed, "
            f"since {name} was read as it was found and that check was undecided; results and "
            "report say so"
        )
    return (
        f"{taken} {'becomes' if one else 'become'} suspect by this and {'is' if one else 'are'} "
        f"left out of results: nobody will know how {name} read then. Where it was not re-adjusted "
        f"yet, coatbench check {name} comes first (as found)"
    )


def _unclosed(store: StoreReader, status: Mapping[str, Any], instrument: str) -> Row | None:
    serial = next((i["serial"] for i in status["instruments"] if i["id"] == instrument), None)
    return next(iter(store.rows(_UNCLOSED, (serial, instrument))), None)


def _taken(found: Row) -> str:
    return f"{times(found['readings'], 'reading')} taken since check {found['check_id']}"
