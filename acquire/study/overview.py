"""Studies as plain data, for programs: what ``coatbench study --json`` prints. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from acquire.analysis.plans.planning import net_change_seen
from acquire.analysis.studies.precision import limit
from acquire.analysis.studies.study import Study
from acquire.analysis.studies.warmup import WarmUp
from acquire.model import StudyKind, iso_utc
from acquire.study.found import FoundStudy
from acquire.study.lending import Candidates, Key, in_use


def overview(study: FoundStudy, lists: Candidates) -> Iterator[dict[str, object]]:
    """A study as plain data, one entry a finding: what ``--list --json`` prints."""
    for finding in study.findings:
        key = Key(finding.serial, study.quantity, finding.channel)
        now = in_use(lists, key)
        known, warm = finding.study, finding.warm_up
        entry: dict[str, object] = {
            "study": study.id,
            "kind": study.kind.value,
            "instrument": finding.instrument,
            "serial": finding.serial,
            "quantity": study.quantity.value,
            "channel": finding.channel,
            "unit": finding.unit,
            "people": list(study.people) if study.kind is StudyKind.REPEATABILITY else [],
            "on": study.plan.panel,
            "last_reading": iso_utc(finding.last_utc_ns),
            "open_places": study.open_places,
            "under_way": study.is_open,
            "in_use": now is not None and now.study.id == study.id,
        }
        if known is not None:
            entry |= _figures(known)
        if warm is not None:
            entry |= {
                "readings": warm.readings,
                "ready_s": warm.ready_s,
                "warm_up_s": warm.warm_up_s,
                "trouble": finding.trouble or warm.lacking or _second(warm),
            }
        yield entry


def _second(warm: WarmUp) -> str:
    return "the drift is not one exponential approach to a level" if warm.has_second else ""


def _figures(study: Study) -> Mapping[str, object]:
    found, people, usable = study.repeatability, study.reproducibility, study.usable
    dependence = study.dependence
    return {
        "readings": sum(len(c.values) for c in study.cells),
        "spots": len(study.spots),
        "s_r": None if found is None else found.sd,
        "degrees_of_freedom": None if found is None else found.nu,
        "s_r_95": None if found is None or found.sd == 0 else list(found.interval()),
        "r": None if found is None else limit(found.sd),
        "s_L": study.between,
        "s_R": None if people is None else people.sd,
        "s_R_95": None if people is None else [people.low, people.high],
        "R": None if people is None else limit(people.sd),
        "mandel_h": None if study.h is None else list(study.h),
        "mandel_k": None if study.k is None else list(study.k),
        "depends_on_level": dependence is not None and dependence.is_shown,
        "figure_lent": None if usable is None else usable.sd,
        "flagged_readings": [o.reading for o in study.odd_values if o.reading is not None],
        "net_change_of_5_readings": (
            None if usable is None else net_change_seen(usable.sd, 5, usable.nu)
        ),
    }
