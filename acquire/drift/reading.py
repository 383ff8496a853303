"""From the store to histories: every judged check whose pieces were read in full is a point.

That a check failed, stayed undecided or was broken off takes nothing from a piece that was read as
often as its policy wants. A piece without a certificate has nothing to deviate from, and one that
was not read in full has no figure; the store marks both by an uncertainty of 0. Voided readings
were left out when the check was judged.

The order of recording says whether a meter was re-adjusted between two checks, since clocks can be
set back; the rule is that of the view `brackets`. Ten years of daily checks are hundreds of
thousands of rows, so the database hands over a row a check, and columns are made of what many
checks have in common. Uses the reader's thread.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from acquire.drift.history import History, Key
from acquire.history.series import NS_A_DAY, Floats, Moments, Series
from acquire.store.reader import StoreReader

T = TypeVar("T")

_SEP = "\x1f"
"""Stands between texts; no name of a piece or channel can hold it."""

_CHECKS = """SELECT c.id, c.instrument, c.serial, c.quantity, c.policy_json, j.at_utc_ns,
    j.after_reading
FROM check_begin AS c JOIN check_judgement AS j ON j.check_id = c.id
WHERE ?1 = '' OR c.serial IN (SELECT serial FROM check_begin WHERE instrument = ?1)
ORDER BY c.id"""

# All aggregates of a group see its rows in the same order.
_PIECES = f"""SELECT check_id, group_concat(piece, '{_SEP}'), group_concat(channel, '{_SEP}'),
    group_concat(CASE WHEN CAST(expanded_uncertainty AS REAL) > 0 THEN readings ELSE 0 END, ' '),
    group_concat(coalesce(certificate_id, 0), ' '), group_concat(deviation, ' ')
FROM piece_judgement
WHERE ?1 = '' OR check_id IN (SELECT id FROM check_begin WHERE serial IN (
    SELECT serial FROM check_begin WHERE instrument = ?1))
GROUP BY check_id"""  # noqa: S608 - our own sign

_GUARD = """SELECT expanded_uncertainty FROM piece_judgement
WHERE check_id = ? AND piece = ? AND channel = ?"""
_ADJUSTED = "SELECT serial, after_reading FROM notice WHERE kind = 'adjusted'"
_CERTIFICATES = "SELECT id, value, expanded_uncertainty, coverage_factor FROM certificate"


class _Rule(NamedTuple):
    readings: int
    limit: float


class _Policy(NamedTuple):
    """What a history needs of the policy of a check."""

    unit: str
    resolution: float
    rules: dict[str, _Rule]


class _Checks(NamedTuple):
    """All judged checks in columns, in order of recording.

    `adjusted` is how often the meter had been re-adjusted before a check.
    """

    ids: Moments
    instruments: Sequence[str]
    serials: Sequence[str]
    quantities: Sequence[str]
    policies: Sequence[_Policy]
    at_ns: Moments
    adjusted: Moments


class _Shared(NamedTuple):
    """What checks have in common whose figures stand in the same columns, as the store has it.

    `counts` are 0 where a piece was held against nothing or not read in full.
    """

    pieces: str
    channels: str
    counts: str
    certificates: str
    serial: str
    quantity: str
    policy: int


class _Stretch(NamedTuple):
    """Points of one history whose checks had all but their figures in common.

    `places` are those of the checks.
    """

    places: Moments
    deviation: Floats
    certificate: int
    policy: _Policy


def histories(
    reader: StoreReader, instrument: str = "", piece: str = "", channel: str | None = None
) -> list[History]:
    """The histories of the store, or those of an instrument (whatever its serial number was).

    In order of instruments and pieces. To be called within one snapshot of the reader. Raises
    `StoreError`.
    """
    checks = _checks(reader, instrument)
    stretches = _stretches(reader, instrument, checks)
    certificates = {
        row[0]: (float(row[1]), float(row[2]) / float(row[3])) for row in reader.each(_CERTIFICATES)
    }
    last = dict(zip(checks.instruments, checks.serials, strict=True))
    names = dict(zip(checks.serials, checks.instruments, strict=True))
    order = {name: place for place, name in enumerate(dict.fromkeys(names.values()))}
    found = [
        _history(reader, key, parts, checks, certificates, names[key.serial], last)
        for key, parts in stretches.items()
        if piece in ("", key.piece)
        and channel in (None, key.channel)
        and instrument in ("", names[key.serial])
    ]
    return sorted(found, key=lambda h: (order[h.instrument], not h.is_present))


def _checks(reader: StoreReader, instrument: str) -> _Checks:
    rows = reader.rows(_CHECKS, (instrument,))
    columns = list(zip(*rows, strict=True)) or [()] * 7
    ids, instruments, serials, quantities, texts, at_ns, after = columns
    policies = {text: _policy(text) for text in set(texts)}
    return _Checks(
        np.array(ids, np.int64),
        instruments,
        serials,
        quantities,
        [policies[text] for text in texts],
        np.array(at_ns, np.int64),
        _adjusted(reader, np.array(serials), np.array(after, np.int64)),
    )


def _adjusted(reader: StoreReader, serials: NDArray[np.str_], after: Moments) -> Moments:
    """How often each check's meter had been re-adjusted before it.

    A notice belongs after the check whose last reading it follows, as in the view `brackets`.
    """
    notices: dict[str, list[int]] = defaultdict(list)
    for serial, after_reading in reader.each(_ADJUSTED):
        notices[serial].append(after_reading)
    counted = np.zeros(len(after), np.int64)
    for serial, own in notices.items():
        mine = serials == serial
        counted[mine] = np.searchsorted(np.sort(np.array(own)), after[mine])
    return counted


def _policy(text: str) -> _Policy:
    """A policy as stored; one that says less (of an older store) rules nothing."""
    stored = json.loads(text)
    return _Policy(
        str(stored.get("unit", "")),
        float(stored.get("resolution", 0)),
        {
            rule["piece"]: _Rule(int(rule["readings"]), float(rule["limit"]))
            for rule in stored.get("rules", ())
        },
    )


def _stretches(reader: StoreReader, instrument: str, checks: _Checks) -> dict[Key, list[_Stretch]]:
    place_of = {check: place for place, check in enumerate(checks.ids.tolist())}
    alike: dict[tuple[Any, ...], list[tuple[int, str]]] = defaultdict(list)
    owners = list(zip(checks.serials, checks.quantities, map(id, checks.policies), strict=True))
    for check, *columns, figures in reader.each(_PIECES, (instrument,)):
        place = place_of.get(check)
        if place is not None:
            alike[(*columns, *owners[place])].append((place, figures))
    found: dict[Key, list[_Stretch]] = {}
    for shared, rows in ((_Shared._make(key), rows) for key, rows in alike.items()):
        policy = checks.policies[rows[0][0]]
        places = np.array([place for place, _ in rows])
        deviation = _table([figures for _, figures in rows])
        layout = zip(
            shared.pieces.split(_SEP),
            shared.channels.split(_SEP),
            map(int, shared.counts.split()),
            map(int, shared.certificates.split()),
            strict=True,
        )
        for k, (piece, channel, count, certificate) in enumerate(layout):
            rule = policy.rules.get(piece)
            if rule is None or rule.limit <= 0 or count < max(rule.readings, 1):
                continue
            key = Key(shared.serial, shared.quantity, piece, channel, policy.unit)
            found.setdefault(key, []).append(_Stretch(places, deviation[:, k], certificate, policy))
    return found


def _table(texts: Sequence[str]) -> Floats:
    """Figures, a row a check."""
    # Quicker than letting the array read the texts.
    return np.fromiter(map(float, " ".join(texts).split()), float).reshape(len(texts), -1)


def _history(
    reader: StoreReader,
    key: Key,
    parts: Sequence[_Stretch],
    checks: _Checks,
    certificates: dict[int, tuple[float, float]],
    instrument: str,
    last: dict[str, str],
) -> History:
    places = np.concatenate([part.places for part in parts])
    recorded = np.argsort(places, kind="stable")
    at_ns = checks.at_ns[places]
    order = recorded[np.argsort(at_ns[recorded], kind="stable")]
    at_ns, by_time = at_ns[order], places[order]
    part_of = np.repeat(np.arange(len(parts)), [len(part.places) for part in parts])
    newest = parts[int(part_of[recorded[-1]])]
    pairs = [certificates.get(part.certificate) for part in parts]
    parts_by_time = part_of[order].tolist()
    return History(
        instrument=instrument,
        key=key,
        series=Series(
            at_ns=at_ns,
            days=(at_ns - at_ns[0]) / NS_A_DAY,
            deviation=np.concatenate([part.deviation for part in parts])[order],
            # Checks count alike in the line through them, so nobody asks how sure each one is.
            u=np.zeros(len(order)),
            checks=tuple(checks.ids[by_time].tolist()),
            certificates=_picked([str(part.certificate) for part in parts], parts_by_time),
            certified=_picked([pair and pair[0] for pair in pairs], parts_by_time),
            u_certified=_picked([pair[1] if pair else 0.0 for pair in pairs], parts_by_time),
            was_readjusted=np.concatenate(([False], np.diff(checks.adjusted[by_time]) != 0)),
            unit=key.unit,
            left_out=0,
        ),
        limit=newest.policy.rules[key.piece].limit,
        guard=float(reader.one(_GUARD, (int(checks.ids[places.max()]), key.piece, key.channel))),
        resolution=newest.policy.resolution,
        is_present=last.get(instrument) == key.serial,
    )


def _picked(values: Sequence[T], places: Sequence[int]) -> tuple[T, ...]:
    return tuple(map(values.__getitem__, places))
