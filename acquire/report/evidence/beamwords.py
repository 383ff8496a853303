"""By what a head's counts became transmittances, in sentences. Pure; any thread."""

from __future__ import annotations

from collections.abc import Iterator

from acquire.model.plan import StrayLight
from acquire.report.record.beams import Reduction

_FORMULA = "(counts − dark)/(open beam − dark) at each wavelength"


def reduced_words(reduction: Reduction, stray: StrayLight | None) -> Iterator[str]:
    """Nothing for a head that sends percent and a plan that takes no stray light off."""
    for (opening, closing, why), count in sorted(reduction.by.items(), key=str):
        what = f"{_number(count)} in counts: {_FORMULA}, dark and open beam "
        if closing is None:
            yield (
                f"{what}of check {opening} alone, since {why}: what lamp and dark drifted since "
                "then is not taken off."
            )
            continue
        yield f"{what}in a straight line from check {opening} to check {closing}" + _moved(
            reduction, opening, closing
        )
    for why, count in sorted(reduction.lacking.items()):
        yield f"{_number(count)} in counts could not be used: {why}."
    if stray is not None:
        yield (
            f"Stray light was taken off: the head reads {stray.blocked_percent} % "
            f"(u {stray.u_percent} %) where a sample stops all light, by the plan. The readings of "
            "bands are as the head sent them: in the decisions it is a known shift."
        )


def _number(count: int) -> str:
    return "1 spectrum" if count == 1 else f"{count} spectra"


def _moved(reduction: Reduction, opening: int, closing: int) -> str:
    moved = reduction.lamp_change(opening, closing)
    if moved is None:
        return "."
    changed = f"{100 * moved:+.2f}".replace("-", "−")
    return f"; the light of the open beam changed by {changed} % between them."
