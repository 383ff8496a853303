"""What a plan could show on this bench: by the scatter that a study found, or by the default.

Without a study the default is the largest scatter that the instrument's check lets pass (its
policy's spread limit): a meter that scatters more cannot start a run. Reads the store where there
is one, and writes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

from acquire.errors import CoatbenchError, NotFound

if TYPE_CHECKING:
    from acquire.model import Bench, InstrumentSpec, Measure, Plan
    from acquire.study.lending import Candidates


CLEAR = 0.9
"""What a clear slide of glass lets through: it reflects about 8 % (common practice, no source)."""


class _Scatter(NamedTuple):
    """A scatter to plan with, how well it is known (None: not at all), and where it is from."""

    sd: float
    nu: float | None
    said: str


def planning_lines(plan: Plan, bench: Bench) -> list[str]:
    """A line for each measure, instrument and channel that fit; empty where none does."""
    if plan.study is not None:
        return []
    lists, trouble = _candidates(bench)
    treatments = max(1, sum(not t.is_control for t in plan.treatments))
    lines = [
        line
        for measure in plan.measures
        for spec in bench.instruments
        if spec.kind is measure.quantity
        for channel in measure.channels
        if channel in spec.policy.channels
        for line in _lines(measure, spec, channel, lists, treatments)
    ]
    return ["", *trouble, *lines] if lines else []


def _candidates(bench: Bench) -> tuple[Candidates, list[str]]:
    """The figures of the studies in the store, and what is said of one that cannot be read."""
    from acquire.store.reader import StoreReader  # noqa: PLC0415 - slow
    from acquire.study.found import studies  # noqa: PLC0415
    from acquire.study.lending import candidates  # noqa: PLC0415

    try:
        with StoreReader(bench.store) as store:
            return candidates(studies(store)), []
    except NotFound:
        # A plan can be looked through before anything was recorded.
        return {}, []
    except CoatbenchError as error:
        return {}, [f"NOTE: studies in the store are left out: {error}"]


def _lines(
    measure: Measure, spec: InstrumentSpec, channel: str, lists: Candidates, treatments: int
) -> Iterator[str]:
    from acquire.analysis.figures import rounded, suffix  # noqa: PLC0415 - slow
    from acquire.analysis.planning import net_change_seen, pair_seen, readings_for  # noqa: PLC0415
    from acquire.model import Quantity, at_channel  # noqa: PLC0415

    scatter = _scatter(spec, channel, measure.unit, lists)
    sign = suffix(measure.unit)
    yield f"planning {measure.id} with {spec.id}{at_channel(channel)}: {scatter.said}"
    if measure.quantity is Quantity.TRANSMITTANCE:
        # A film near its blank: relative uncertainties are those of the blank's light.
        scatter = scatter._replace(sd=scatter.sd / CLEAR)
        sign += " of the blank's light"
        yield f"  figures are for a blank that lets {100 * CLEAR:g} % through, and films near it"
    if measure.sled is not None:
        scatter = scatter._replace(sd=scatter.sd / measure.sled.weight_n)
        sign = suffix(measure.result_unit)
        yield f"  figures are coefficients of friction, on a sled of {measure.sled.as_weighed}"
    seen = net_change_seen(scatter.sd, measure.replicates, scatter.nu, treatments)
    count = "1 reading" if measure.replicates == 1 else f"{measure.replicates} readings"
    if seen is None:
        yield f"  {count} of each zone and stage shows nothing without a study"
    else:
        yield (
            f"  {count} of each zone and stage show a net change of {rounded(seen, seen)}{sign} "
            f"in 8 of 10 trials ({_at_once(treatments)}, without drift)"
        )
        if treatments > 1:
            apart = pair_seen(scatter.sd, measure.replicates, scatter.nu, treatments) or 0.0
            yield (
                f"  two treatments have to lie {rounded(apart, apart)}{sign} apart to be told from "
                f"each other as often, with all pairs of {treatments} held against each other"
            )
    if measure.margin is not None:
        margin = float(measure.margin)
        need = readings_for(scatter.sd, margin, treatments)
        yield (
            f"  to show one as large as the margin of {margin:g}{sign}: "
            f"{'no number up to 1000 is enough' if need is None else f'{need} readings'}"
        )


_COUNTS = (
    "",
    "one product",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
)


def _at_once(treatments: int) -> str:
    """``with six treatments compared at once``."""
    if treatments == 1:
        return "one product and its control"
    said = _COUNTS[treatments] if treatments < len(_COUNTS) else str(treatments)
    return f"with {said} treatments compared at once"


def _scatter(spec: InstrumentSpec, channel: str, unit: str, lists: Candidates) -> _Scatter:
    from acquire.analysis.figures import rounded, suffix  # noqa: PLC0415 - slow
    from acquire.study.lending import Key, in_use  # noqa: PLC0415
    from acquire.units import convert  # noqa: PLC0415

    found = in_use(lists, Key(spec.serial, spec.kind, channel))
    if found is not None:
        known = found.repeatability
        return _Scatter(known.sd, known.nu, f"repeatability {known.said(unit)}")
    policy = spec.policy
    sd = float(convert(max(rule.spread_limit for rule in policy.rules), policy.unit, unit))
    return _Scatter(
        sd,
        None,
        f"no study is in use; the default is {rounded(sd, sd)}{suffix(unit)}, the largest scatter "
        f"that the check policy {policy.id} lets pass. coatbench study {spec.id} finds its own",
    )
