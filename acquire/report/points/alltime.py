"""All trials of a store in one table by a scorecard, and what of it may be compared.

Reads the points that were kept and no reading, so that it takes a moment however many there are.
Totals stand in one group only where everything that makes them comparable is alike: the scorecard
and its version, what was measured and with what band and weights, sled, panel, wash recipe, looks
and scales, the items that have points, and whether readings were checked. Writes nothing. The
thread of the reader.
"""

from __future__ import annotations

import json
import math
import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import NormalDist
from typing import NamedTuple

from acquire.analysis.budget.uncertainty import CONFIDENCE
from acquire.analysis.scoring.scored import EDITION, ProductScore, TrialScore, from_text
from acquire.errors import NotFound, StoreError
from acquire.model.past import AT_LEAST, HIGHER
from acquire.report.points.resting import Meters, changed, marks, marks_of
from acquire.store.reader import StoreReader
from acquire.store.work_rows import PastResultRow, ScorecardRow
from acquire.store.worked import UNSEALED, Worked
from acquire.trial.key import products_of, unpacked

IMPORTED = "imported, unchecked"

Key = tuple[tuple[str, str], ...]


class Entry(NamedTuple):
    """One product of one trial. `stale` says why its points are out of date, empty if not.

    `is_tied` where it is not shown to be behind the first of its group.
    """

    trial: str
    product: ProductScore
    name: str
    is_blind: bool
    stale: tuple[str, ...]
    is_tied: bool


@dataclass(frozen=True, slots=True)
class Group:
    """Totals that may be compared. `apart` is what tells this group from the others."""

    version: int
    decimals: int
    apart: tuple[tuple[str, str], ...]
    entries: tuple[Entry, ...]


class PastEntry(NamedTuple):
    """One imported figure with the file and the line it came from.

    `is_at_least` is a life that had not ended: it may be longer than its figure.
    """

    file: str
    row: PastResultRow
    value: float
    u: float | None
    is_at_least: bool = False


@dataclass(frozen=True, slots=True)
class PastGroup:
    """Imported figures of the same thing under the same conditions, the best first."""

    figure: str
    quantity: str
    channel: str
    stage: str
    unit: str
    higher_is_better: bool
    conditions: tuple[tuple[str, str], ...]
    entries: tuple[PastEntry, ...]

    def places(self) -> list[str]:
        """The place of each entry by the figures alone: ``1``, or ``1=`` where it is shared.

        One is ahead of another where its figure is better, and nothing is ahead of a life that had
        not ended: it may still be longer.
        """
        sign = -1 if self.higher_is_better else 1
        best_first = sorted(sign * e.value for e in self.entries)
        found = [
            1 if e.is_at_least else 1 + bisect_left(best_first, sign * e.value)
            for e in self.entries
        ]
        shared = Counter(found)
        return [f"{place}=" if shared[place] > 1 else f"{place}" for place in found]


@dataclass(frozen=True, slots=True)
class AllTime:
    """The table of one scorecard. `alike` holds in all groups; `differs` names what does not.

    `stale` and `unscored` are trials, `damaged` those whose points cannot be read.
    """

    scorecard: str
    title: str
    alike: tuple[tuple[str, str], ...]
    differs: tuple[str, ...]
    groups: tuple[Group, ...]
    stale: tuple[tuple[str, tuple[str, ...]], ...]
    unscored: tuple[str, ...]
    damaged: tuple[str, ...]


def scorecards_of(store: Path) -> list[str]:
    """The ids of all scorecards that points were kept by."""
    with StoreReader(store) as reader:
        return list(dict.fromkeys(row.scorecard for row in Worked(reader.rows).every_scorecard()))


def all_time(store: Path, scorecard: str) -> AllTime:
    """The table of all trials by a scorecard. Raises `NotFound` for one nobody has used."""
    with StoreReader(store) as reader, reader.snapshot():
        worked = Worked(reader.rows)
        versions = worked.scorecards(scorecard)
        if not versions:
            known = list(dict.fromkeys(row.scorecard for row in worked.every_scorecard()))
            raise NotFound(
                f"no points were kept by a scorecard {scorecard}",
                got="no such id in the store",
                wanted=", ".join(known) or "a scorecard that was used",
                next_step="coatbench rescore --scorecard FILE",
            )
        return _Table(reader, worked, versions).table()


class _Table:
    def __init__(
        self, reader: StoreReader, worked: Worked, versions: Sequence[ScorecardRow]
    ) -> None:
        self._reader, self._worked, self._versions = reader, worked, versions

    def table(self) -> AllTime:
        now, meters = marks(self._reader), Meters(self._reader)
        keys = _keys(self._reader)
        scores: dict[str, TrialScore] = {}
        stale: dict[str, tuple[str, ...]] = {}
        damaged: list[str] = []
        # Of a trial the points by the highest version count: the latest of what it was scored by.
        for version in sorted(self._versions, key=lambda v: v.version):
            for row in self._worked.scores(version.id):
                try:
                    scores[row.trial] = from_text(row.points_json)
                except ValueError:
                    damaged.append(row.trial)
                    continue
                why = list(changed(marks_of(row.rests_on), now.get(row.trial), meters))
                if row.edition != EDITION:
                    why.append("it was reckoned by other rules")
                stale[row.trial] = tuple(why)
        rows = self._reader.rows(
            "SELECT DISTINCT trial FROM trial WHERE instr(char(10) || text, char(10) || '[study]')"
        )
        studies = {row[0] for row in rows}
        groups = _grouped(scores, stale, keys)
        alike, differs = _alike([key for key, _ in groups])
        return AllTime(
            self._versions[0].scorecard,
            _title(self._versions),
            alike,
            differs,
            tuple(_group(key, entries, scores, differs) for key, entries in groups),
            tuple((t, why) for t, why in stale.items() if why),
            tuple(t for t in now if t not in scores and t not in studies),
            tuple(dict.fromkeys(damaged)),
        )


def _title(versions: Sequence[ScorecardRow]) -> str:
    last = max(versions, key=lambda v: v.version)
    return f"{last.scorecard}, up to version {last.version}"


def _keys(reader: StoreReader) -> dict[str, dict[str, str] | None]:
    """By trial that is blind: products by code where its key was unsealed, else None."""
    rows = reader.rows(
        "SELECT k.trial, k.digest, k.sealed, EXISTS (SELECT 1 FROM key_opening AS o "
        "WHERE o.key_id = k.id AND o.how = ?) AS is_unsealed FROM trial_key AS k ORDER BY k.id",
        (UNSEALED,),
    )
    found: dict[str, dict[str, str] | None] = {}
    for trial, digest, sealed, is_unsealed in rows:
        found[trial] = None
        if is_unsealed:
            try:
                found[trial] = products_of(unpacked(sealed, digest))[1]
            except (StoreError, ValueError):
                # What is damaged is told by `coatbench store verify`; names stay codes.
                continue
    return found


def _grouped(
    scores: Mapping[str, TrialScore],
    stale: Mapping[str, tuple[str, ...]],
    keys: Mapping[str, Mapping[str, str] | None],
) -> list[tuple[Key, list[Entry]]]:
    groups: dict[Key, list[Entry]] = {}
    for trial, score in scores.items():
        products = keys.get(trial, {})
        for product in score.products:
            if product.total is None:
                continue
            name = (products or {}).get(product.treatment)
            shown = f"{name} ({product.treatment})" if name else product.name
            entry = Entry(trial, product, shown, products is None, stale[trial], is_tied=False)
            groups.setdefault(_key(score, product), []).append(entry)
    # The largest group first; of equal ones that with the higher total.
    return sorted(groups.items(), key=lambda g: (-len(g[1]), -max(_total(e) for e in g[1]), g[0]))


def _key(score: TrialScore, product: ProductScore) -> Key:
    """All that has to be alike, in pairs of what and how. A condition of a missing item is out."""
    found: dict[str, set[str]] = {}
    for c in score.conditions:
        if not any(c.what.endswith(f" for {item}") for item in product.missing):
            # Two measures of one trial may have a sled each: all of them have to be alike.
            found.setdefault(c.what, set()).add(c.value)
    kept = {what: "; and ".join(sorted(values)) for what, values in found.items()}
    return (
        ("scorecard version", str(score.version)),
        ("points are missing for", ", ".join(product.missing) or "nothing"),
        ("readings", "unchecked" if score.is_unchecked else "checked"),
        *sorted(kept.items()),
    )


def _total(entry: Entry) -> float:
    assert entry.product.total is not None
    return entry.product.total


def _alike(keys: Sequence[Key]) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """What is the same in all groups, and the names of what is not."""
    names = dict.fromkeys(what for key in keys for what, _ in key)
    values = {what: {dict(key).get(what) for key in keys} for what in names}
    alike = tuple(
        (what, value)
        for what, found in values.items()
        if len(found) == 1 and (value := next(iter(found))) is not None
    )
    return alike, tuple(what for what, found in values.items() if len(found) > 1)


def _group(
    key: Key,
    entries: Sequence[Entry],
    scores: Mapping[str, TrialScore],
    differs: Sequence[str],
) -> Group:
    own = dict(key)
    ordered = sorted(entries, key=lambda e: (-_total(e), e.trial, e.product.treatment))
    apart = tuple((what, own.get(what, "none")) for what in differs)
    first = scores[ordered[0].trial]
    return Group(first.version, first.decimals, apart, _with_ties(ordered))


def _with_ties(ordered: Sequence[Entry]) -> tuple[Entry, ...]:
    """Which totals are not shown to be behind the first.

    Trials share no reading, so what lies between two totals is as sure as both together: their
    half intervals that face each other, in squares, at the level at which all of the group hold
    together. A life that may have gone on goes for the one behind. Of one trial its places stand.
    """
    best = ordered[0]
    # Sidak's level (`acquire.analysis.budget.reach`), which would take longer to import than the
    # table.
    each = CONFIDENCE ** (1 / max(1, len(ordered) - 1))
    law = NormalDist()
    wider = law.inv_cdf((1 + each) / 2) / law.inv_cdf((1 + CONFIDENCE) / 2)
    return tuple(e._replace(is_tied=e is not best and not _behind(best, e, wider)) for e in ordered)


def _place(entry: Entry) -> int | None:
    """The best place that a product may have in its own trial; None where it has none."""
    found = re.match("[0-9]+", entry.product.place)
    return int(found[0]) if found else None


def _behind(best: Entry, other: Entry, wider: float) -> bool:
    if other.trial == best.trial and (place := _place(other)) is not None:
        # As its own page has it, where the control that both share cancels.
        return place > 1
    if other.product.slack is None or best.product.low is None or other.product.high is None:
        return False
    down = _total(best) - best.product.low
    up = other.product.high - _total(other)
    apart = _total(best) - _total(other) - other.product.slack
    return apart > wider * math.hypot(down, up)


class _PastKey(NamedTuple):
    figure: str
    quantity: str
    channel: str
    stage: str
    unit: str
    higher: bool
    conditions: tuple[tuple[str, str], ...]


# -- what was imported -----------------------------------------------------------------------------


def past_groups(store: Path) -> tuple[PastGroup, ...]:
    """All imported figures: the same figure under the same conditions together, the best first."""
    with StoreReader(store) as reader:
        rows = Worked(reader.rows).past_results()
    groups: dict[_PastKey, list[PastEntry]] = {}
    for file, row in rows:
        kept = dict(json.loads(row.conditions_json))
        higher = kept.pop(HIGHER, "yes") == "yes"
        is_at_least = kept.pop(AT_LEAST, "") == "yes"
        u = None if row.expanded_uncertainty is None else float(row.expanded_uncertainty)
        key = _PastKey(
            row.figure, row.quantity, row.channel, row.stage, row.unit, higher,
            tuple(sorted(kept.items())),
        )  # fmt: skip
        groups.setdefault(key, []).append(PastEntry(file, row, float(row.value), u, is_at_least))
    return tuple(
        PastGroup(*key, tuple(sorted(found, key=_best_first if key.higher else _least_first)))
        for key, found in sorted(groups.items(), key=lambda g: (-len(g[1]), g[0]))
    )


def _best_first(entry: PastEntry) -> tuple[float, int]:
    return -entry.value, entry.row.id


def _least_first(entry: PastEntry) -> tuple[float, int]:
    return entry.value, entry.row.id
