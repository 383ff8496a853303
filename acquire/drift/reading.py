"""From the store to histories: every judged check whose pieces were read in full is a point.

That a check failed, stayed undecided or was broken off takes nothing from a piece that was read as
often as its policy wants. A piece without a certificate has nothing to deviate from, and one that
was not read in full has no figure; the store marks both by an uncertainty of 0. Voided readings
were left out when the check was judged. Where a certificate was withdrawn, the figures are those by
the one in its place.

The order of recording says whether a meter was re-adjusted between two checks, since clocks can be
set back; the rule is that of the view `brackets`. Ten years of daily checks are hundreds of
thousands of rows, so the database hands over all figures of a column as one text. Uses the reader's
thread.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Sequence
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from acquire.drift.history import History, Key
from acquire.history.series import NS_A_DAY, Floats, Moments, Series
from acquire.store.reader import StoreReader

T = TypeVar("T")

_CHECKS = """SELECT c.id, c.instrument, c.serial, c.quantity, c.policy_json, j.at_utc_ns,
    j.after_reading
FROM check_begin AS c JOIN check_judgement AS j ON j.check_id = c.id
WHERE ?1 = '' OR c.serial IN (SELECT serial FROM check_begin WHERE instrument = ?1)
ORDER BY c.id"""

_OF_INSTRUMENT = """(?1 = '' OR check_id IN (SELECT id FROM check_begin WHERE serial IN (
    SELECT serial FROM check_begin WHERE instrument = ?1)))"""

# One row with a figure of every judged piece in each column, all in the same order. A piece that
# was held against nothing, or not read in full, has no uncertainty and counts as not read at all.
_PIECES = f"""SELECT group_concat(check_id, ' '), group_concat(coalesce(certificate_id, 0), ' '),
    group_concat(readings, ' '), group_concat(deviation, ' ')
FROM piece_judgement WHERE CAST(expanded_uncertainty AS REAL) > 0 AND {_OF_INSTRUMENT}"""  # noqa: S608 - our own texts

# What was judged without a certificate of the register, as in stores from before there was one.
_OTHERS = f"""SELECT check_id, piece, channel, coalesce(certificate_id, 0), readings, deviation
FROM piece_judgement WHERE CAST(expanded_uncertainty AS REAL) > 0 AND {_OF_INSTRUMENT}
    AND coalesce(certificate_id, 0) NOT IN (SELECT id FROM certificate)"""  # noqa: S608

# What is other of pieces since a certificate was withdrawn that they were held against.
_ANEW = """SELECT check_id, piece, channel, coalesce(certificate_id, 0), deviation,
    CAST(expanded_uncertainty AS REAL) > 0
FROM reassessed_piece AS w WHERE reassessment_id = (
    SELECT max(x.id) FROM reassessment AS x WHERE x.check_id = w.check_id)"""

_GUARD = """SELECT expanded_uncertainty FROM piece_judgement
WHERE check_id = ? AND piece = ? AND channel = ?"""
_ADJUSTED = "SELECT serial, after_reading FROM notice WHERE kind = 'adjusted'"
_CERTIFICATES = """SELECT id, piece, channel, value, expanded_uncertainty, coverage_factor
FROM certificate"""


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


class _Certified(NamedTuple):
    """What a history needs of a certificate; `u` is its standard uncertainty."""

    piece: str
    channel: str
    value: float
    u: float


class _Judged(NamedTuple):
    """All judged pieces that have a figure, in columns: of which check, with how many readings.

    `sort` is the place of a row among `sorts`: piece, channel and number of the certificate.
    """

    checks: Moments
    sort: Moments
    counts: Moments
    deviation: Floats
    sorts: list[tuple[str, str, int]]


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
    certificates = {
        number: _Certified(held, at, float(value), float(doubt) / float(k))
        for number, held, at, value, doubt, k in reader.each(_CERTIFICATES)
    }
    stretches = _stretches(reader, instrument, checks, certificates)
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


def _stretches(
    reader: StoreReader, instrument: str, checks: _Checks, certificates: dict[int, _Certified]
) -> dict[Key, list[_Stretch]]:
    if not len(checks.ids):
        return {}
    judged = _judged(reader, instrument, certificates)
    places = np.minimum(np.searchsorted(checks.ids, judged.checks), len(checks.ids) - 1)
    is_known = np.flatnonzero(checks.ids[places] == judged.checks)
    codes: dict[tuple[str, str, int], int] = {}
    owners = zip(checks.serials, checks.quantities, map(id, checks.policies), strict=True)
    owner = np.array([codes.setdefault(one, len(codes)) for one in owners])
    # Rows of one meter, quantity, policy, piece, channel and certificate, as they were recorded.
    sort = owner[places[is_known]] * len(judged.sorts) + judged.sort[is_known]
    by_sort = is_known[np.argsort(sort, kind="stable")]
    _, firsts = np.unique(np.sort(sort), return_index=True)
    parts = [part for part in np.split(by_sort, firsts[1:]) if len(part)]
    found: dict[Key, list[_Stretch]] = {}
    for rows in sorted(parts, key=lambda part: int(part[0])):
        piece, channel, certificate = judged.sorts[judged.sort[rows[0]]]
        place = places[rows[0]]
        policy = checks.policies[place]
        rule = policy.rules.get(piece)
        if rule is None or rule.limit <= 0:
            continue
        full = rows[judged.counts[rows] >= max(rule.readings, 1)]
        if not len(full):
            continue
        key = Key(checks.serials[place], checks.quantities[place], piece, channel, policy.unit)
        found.setdefault(key, []).append(
            _Stretch(places[full], judged.deviation[full], certificate, policy)
        )
    return found


def _judged(reader: StoreReader, instrument: str, certificates: dict[int, _Certified]) -> _Judged:
    """All judged pieces. What a piece was held against says which one it was, and at what channel:
    a number a row is quick to read, and two names are not."""
    (texts,) = reader.rows(_PIECES, (instrument,))
    checks, used, counts = (np.fromstring(text or "", np.int64, sep=" ") for text in texts[:3])
    deviation = np.fromstring(texts[3] or "", float, sep=" ")
    known, sort = np.unique(used, return_inverse=True)
    sorts = [
        (*certificates[one][:2], one) if one in certificates else ("", "", 0)
        for one in known.tolist()
    ]
    if ("", "", 0) in sorts:
        others = reader.rows(_OTHERS, (instrument,))
        named = dict.fromkeys((row[1], row[2], row[3]) for row in others)
        place_of = {one: len(sorts) + place for place, one in enumerate(named)}
        sorts += named
        keep = np.isin(used, list(certificates))
        checks = np.concatenate((checks[keep], [row[0] for row in others]))
        sort = np.concatenate((sort[keep], [place_of[row[1], row[2], row[3]] for row in others]))
        counts = np.concatenate((counts[keep], [row[4] for row in others]))
        deviation = np.concatenate((deviation[keep], [float(row[5]) for row in others]))
    return _anew(reader, _Judged(checks, sort, counts, deviation, sorts))


def _anew(reader: StoreReader, judged: _Judged) -> _Judged:
    """The same by the certificates that stand; what none stands for has no figure."""
    found = {(row[0], row[1], row[2]): row[3:] for row in reader.each(_ANEW)}
    if not found:
        return judged
    sorts, sort, deviation = list(judged.sorts), judged.sort.copy(), judged.deviation.copy()
    place_of = {one: place for place, one in enumerate(sorts)}
    keep = np.ones(len(sort), bool)
    concerned = np.isin(judged.checks, [check for check, _, _ in found])
    for i in np.flatnonzero(concerned).tolist():
        piece, channel, _ = sorts[sort[i]]
        other = found.get((int(judged.checks[i]), piece, channel))
        if other is None:
            continue
        certificate, text, has_figure = other
        one = (piece, channel, certificate)
        if one not in place_of:
            place_of[one] = len(sorts)
            sorts.append(one)
        sort[i], deviation[i], keep[i] = place_of[one], float(text), bool(has_figure)
    return _Judged(judged.checks[keep], sort[keep], judged.counts[keep], deviation[keep], sorts)


def _history(
    reader: StoreReader,
    key: Key,
    parts: Sequence[_Stretch],
    checks: _Checks,
    certificates: dict[int, _Certified],
    instrument: str,
    last: dict[str, str],
) -> History:
    places = np.concatenate([part.places for part in parts])
    # In the order in which they happened. A check begins before an earlier one only where a person
    # said that the clock of the earlier one ran ahead, so the later clock is believed: what came
    # before is no later than what came after it.
    order = recorded = np.argsort(places, kind="stable")
    at_ns = np.minimum.accumulate(checks.at_ns[places][order][::-1])[::-1]
    by_time = places[order]
    part_of = np.repeat(np.arange(len(parts)), [len(part.places) for part in parts])
    newest = parts[int(part_of[recorded[-1]])]
    against = [certificates.get(part.certificate) for part in parts]
    parts_by_time = part_of[order]
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
            certified=_picked([held and held.value for held in against], parts_by_time),
            u_certified=_picked([held.u if held else 0.0 for held in against], parts_by_time),
            was_readjusted=np.concatenate(([False], np.diff(checks.adjusted[by_time]) != 0)),
            unit=key.unit,
            left_out=0,
        ),
        limit=newest.policy.rules[key.piece].limit,
        guard=float(reader.one(_GUARD, (int(checks.ids[places.max()]), key.piece, key.channel))),
        resolution=newest.policy.resolution,
        is_present=last.get(instrument) == key.serial,
    )


def _picked(values: Sequence[T], places: NDArray[np.intp]) -> tuple[T, ...]:
    column = np.empty(len(values), object)
    column[:] = values
    return tuple(column[places].tolist())
