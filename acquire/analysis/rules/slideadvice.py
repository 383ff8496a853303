"""Whether bare slides and films let through what glass can: advice, which changes no figure.

Two bare faces send back so much light that a clear sheet lets 2n/(n^2 + 1) through (Fresnel,
`acquire.analysis.transmission.slab`), and no slide of glass lets more. Less is usual below 380 nm
and above 780 nm, where glass absorbs; in between it is no clean, clear slide any more. A film on
one face can at most take the reflection of that face away. So a beam that was too weak when the
head was set to 100, a dark that was none, and dirty slides are seen, which a ratio of slides hides
where all have the same. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.analysis.figures import rounded
from acquire.analysis.scale import PERCENT, Scale
from acquire.analysis.transmission.slab import slab
from acquire.analysis.treatments.level import Level

SODA_LIME, FUSED_SILICA = 1.523, 1.458
"""Indices at 589 nm: modified soda-lime crown, as slides are made of (refractiveindex.info, Schott
B 270), and fused silica (Malitson 1965, as there)."""
LEAST_INDEX = 1.43
"""Of fused silica at 2500 nm (the same); no glass for slides has a lower one."""
LARGEST_INDEX = 1.55
"""Slides of soda-lime have 1.53 within 0.02 (IS 3099, as a trade page quotes it)."""
MISSING = 3.0
"""Percent of the open beam by which a slide may let less through than a clear one. Our choice: a
slide of a millimetre absorbs below one percent of visible light."""
_VISIBLE = (380.0, 780.0)


def slide_advice(
    channel: str,
    bare: Sequence[Level],
    comparisons: Sequence[Comparison | Refusal],
    names: Mapping[str, str],
    scale: Scale,
) -> tuple[str, ...]:
    """Sentences on slides and films that cannot be, and on bare slides in visible light.

    `bare` are the levels of slides without a film, in percent of the open beam; `channel` is of the
    form of `acquire.model.channel`, `scale` that of the films. Empty where there is nothing to say.
    """
    return (*_on_bare(channel, bare), *_on_films(comparisons, names, scale))


def _on_bare(channel: str, bare: Sequence[Level]) -> Iterator[str]:
    read = [(v, v.cell.mean, _half(v)) for v in bare if v.cell.mean is not None]
    if not read:
        return
    most = PERCENT * slab(LEAST_INDEX).transmittance
    clear, silica = (PERCENT * slab(n).transmittance for n in (SODA_LIME, FUSED_SILICA))
    bright = [(v, mean, half) for v, mean, half in read if mean - half > most]
    if bright:
        level, mean, half = bright[0]
        yield (
            f"{len(bright)} of {len(read)} bare slides let more than {most:.1f} % of the open beam "
            f"through, such as {level.cell.zone} at {level.cell.stage} with "
            f"{rounded(mean, half)} %: no glass with two bare faces can (it reflects, Fresnel). "
            "Look at the open beam and the dark of the head; an error in proportion cancels in "
            "the films, any other does not."
        )
        return
    if not _is_visible(channel):
        return
    dim = [(v, mean, half) for v, mean, half in read if mean + half < clear - MISSING]
    if dim:
        level, mean, half = dim[0]
        yield (
            f"{len(dim)} of {len(read)} bare slides let more than {MISSING:g} % of the open beam "
            f"less through than clear glass does ({clear:.1f} %, Fresnel), such as "
            f"{level.cell.zone} at {level.cell.stage} with {rounded(mean, half)} %: are they "
            "clean, clear, square to the beam, and not coated? Films are ratios to them all the "
            "same."
        )
        return
    means = [mean for _, mean, _ in read]
    least = min(half for _, _, half in read)
    yield (
        f"Bare slides let {rounded(min(means), least)} to {rounded(max(means), least)} % of the "
        f"open beam through. Plausible: clear soda-lime lets {clear:.1f} % through and fused "
        f"silica {silica:.1f} %, by what two bare faces reflect (Fresnel)."
    )


def _on_films(
    comparisons: Sequence[Comparison | Refusal], names: Mapping[str, str], scale: Scale
) -> Iterator[str]:
    plain = slab(LARGEST_INDEX)
    one_face = (1 - plain.one_face) / plain.transmittance
    both = 1 / plain.transmittance
    for c in comparisons:
        if isinstance(c, Comparison) and c.film is not None and c.film.interval[0] > one_face:
            yield (
                f"{names.get(c.treatment, c.treatment)}, {c.stage}: a film lets at least "
                f"{scale.figure(c.interval[0], c.budget.expanded)} % of the light through that its "
                f"blank does. A clear film on one face of glass can at most take the reflection of "
                f"that face away, which makes {PERCENT * one_face:.1f} %, on both faces "
                f"{PERCENT * both:.1f} %: was the blank clean, and did lamp and head stay the same?"
            )


def _half(level: Level) -> float:
    """Half the interval of a level; without one a percent, which no display is as coarse as."""
    return 1.0 if level.budget is None else max(level.budget.expanded, 0.01)


def _is_visible(channel: str) -> bool:
    """Whether a band, or a lamp's wavelength, lies in visible light as a whole."""
    low, _, high = channel.partition("-")
    if not (low.isdecimal() and (high.isdecimal() or not high)):
        return False
    return _VISIBLE[0] <= float(low) and float(high or low) <= _VISIBLE[1]
