"""By which scatter a plan is made on this bench: its study's, its past trials', or the default.

Without either the default is the largest scatter that the instrument's check lets pass (its
policy's spread limit): a meter that scatters more cannot start a run. Reads the store where there
is one, and writes nothing. Main thread.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, NamedTuple

from acquire.errors import CoatbenchError, NotFound

if TYPE_CHECKING:
    from acquire.model import Bench, InstrumentSpec, Quantity
    from acquire.model.sled import SledSpec
    from acquire.store.reader import StoreReader
    from acquire.study.lending import Candidates
    from acquire.study.pasttrials import PastScatter


CLEAR = 0.9
"""What a clear slide of glass lets through: it reflects about 8 % (common practice, no source)."""


class Scatter(NamedTuple):
    """A scatter to plan with, how well it is known (None: not at all), and where it is from.

    `zones_sd` is how much the changes of zones with one product differ beyond their readings, None
    where this bench has not shown it; `zones_said` says where it is from. All in the unit of the
    readings, or after `for_results` in that of the results.
    """

    sd: float
    nu: float | None
    said: str
    zones_sd: float | None
    zones_said: str
    is_of_study: bool = False

    @property
    def nu_lent(self) -> float | None:
        """Degrees of freedom that results have beside their own: of a study alone."""
        return self.nu if self.is_of_study else None

    @property
    def zones_taken(self) -> float:
        """What zones are taken to differ by: as much as single readings, until a trial shows it."""
        return self.sd if self.zones_sd is None else self.zones_sd

    def for_results(self, quantity: Quantity, sled: SledSpec | None) -> Scatter:
        """In the unit of the results: coefficients on a sled, films as parts of the blank."""
        by = 1.0
        if quantity.value == "transmittance":
            by = CLEAR
        elif sled is not None:
            by = sled.weight_n
        zones = None if self.zones_sd is None else self.zones_sd / by
        return self._replace(sd=self.sd / by, zones_sd=zones)


class Scatters:
    """What is known of the instruments of a bench; `trouble` says what could not be read."""

    def __init__(
        self,
        lists: Candidates,
        past: Callable[[str, str], PastScatter] | None,
        trouble: tuple[str, ...] = (),
    ) -> None:
        self._lists = lists
        self._past = past
        self.trouble = trouble

    def of(self, spec: InstrumentSpec, channel: str, unit: str) -> Scatter:
        """The scatter of an instrument at a channel, in `unit`."""
        from acquire.analysis.figures import rounded, suffix  # noqa: PLC0415 - slow
        from acquire.study.lending import Key, in_use  # noqa: PLC0415
        from acquire.units import convert  # noqa: PLC0415

        past = self._past(spec.serial, channel) if self._past is not None else None
        zones_sd, zones_said = _zones(past, unit)
        found = in_use(self._lists, Key(spec.serial, spec.kind, channel))
        if found is not None:
            known = found.repeatability
            said = f"repeatability {known.said(unit)}"
            return Scatter(known.sd, known.nu, said, zones_sd, zones_said, is_of_study=True)
        own = f"coatbench study {spec.id} finds its own"
        if past is not None and past.readings is not None:
            sd, nu = past.readings
            said = (
                f"no study is in use; readings of {', '.join(past.trials)} scattered by "
                f"{rounded(sd, sd)}{suffix(unit)} ({nu:g} degrees of freedom). {own}"
            )
            return Scatter(sd, nu, said, zones_sd, zones_said)
        policy = spec.policy
        limit = max(rule.spread_limit for rule in policy.rules)
        sd = float(convert(limit, policy.unit, unit))
        said = (
            f"no study is in use; the default is {rounded(sd, sd)}{suffix(unit)}, the largest "
            f"scatter that the check policy {policy.id} lets pass. {own}"
        )
        return Scatter(sd, None, said, zones_sd, zones_said)


@contextmanager
def scatters_of(bench: Bench) -> Iterator[Scatters]:
    """What the store of a bench knows; nothing where there is none yet."""
    from acquire.store.reader import StoreReader  # noqa: PLC0415 - slow

    try:
        store = StoreReader(bench.store)
    except NotFound:
        # A plan can be looked through before anything was recorded.
        yield Scatters({}, None)
        return
    except CoatbenchError as error:
        yield Scatters({}, None, (_left_out(error),))
        return
    with store:
        yield _of_store(store)


def _of_store(store: StoreReader) -> Scatters:
    from acquire.study.found import studies  # noqa: PLC0415 - slow
    from acquire.study.lending import candidates  # noqa: PLC0415
    from acquire.study.pasttrials import past_scatter  # noqa: PLC0415

    known: dict[tuple[str, str], PastScatter] = {}

    def past(serial: str, channel: str) -> PastScatter:
        if (serial, channel) not in known:
            known[serial, channel] = past_scatter(store, serial, channel)
        return known[serial, channel]

    try:
        return Scatters(candidates(studies(store)), past)
    except CoatbenchError as error:
        return Scatters({}, None, (_left_out(error),))


def _left_out(error: CoatbenchError) -> str:
    return f"NOTE: studies in the store are left out: {error}"


def _zones(past: PastScatter | None, unit: str) -> tuple[float | None, str]:
    from acquire.analysis.figures import rounded, suffix  # noqa: PLC0415 - slow

    if past is None or past.zones is None:
        return None, (
            "how much zones with one product differ is not known on this bench; they are taken to "
            "differ by as much as single readings"
        )
    sd, nu = past.zones
    shown = f"{rounded(sd, sd)}{suffix(unit)}" if sd else "no more than their readings explain"
    most = past.zones_most
    limit = "" if most is None else f"; hardly by more than {rounded(most, most)}{suffix(unit)}"
    return sd, (
        f"zones with one product differed by {shown} in {', '.join(past.trials)} "
        f"({nu:g} degrees of freedom{limit})"
    )
