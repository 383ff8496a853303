"""Whether a certificate can be true of its piece: warnings in words, with their figures. Pure.

A finding never blocks a check: the certificate is what a laboratory measured, and what stands
beside it here is a maker's figure. Values that nothing can have are faults of the bench file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from decimal import Decimal

from acquire.calibration.weights import (
    LEAST_GRAVITY,
    MOST_GRAVITY,
    STANDARD_GRAVITY,
    mpe_g,
    pull_n,
)
from acquire.fresnel import fresnel, index_from_gloss
from acquire.model import Certificate, Piece, PieceKind, at_channel
from acquire.units import symbol

INDEX_DOUBT = 0.005
"""How well the index of a glass is known that was told with its wavelength (common practice, no
source); twice that without, since glass has another index in each colour."""

POLISH_GU = 0.5
"""A real polish sends back a little less or more than an ideal one (common practice, no source)."""

COARSE_SHARE = Decimal("0.02")
"""Of its mass: what a weight without class may differ by before a slip is likely (common practice,
no source)."""

NOMINAL_SHARE = Decimal("0.2")
"""Of a nominal value: what a certified one may differ by (common practice, no source)."""


def findings(piece: Piece, certificates: Iterable[Certificate] | None = None) -> list[str]:
    """What is not plausible of the piece's certificates, by default those in use."""
    used = piece.current if certificates is None else certificates
    return [text for c in used for rule in _RULES[piece.kind] for text in rule(piece, c)]


def fresnel_gloss(piece: Piece, channel: str) -> tuple[Decimal, Decimal] | None:
    """Gloss (GU) that the tile's index makes at an angle, and how far that is in doubt.

    None without an index. ISO 2813: 100 times the reflectance relative to that of n = 1.567.
    """
    index = piece.nominal.refractive_index
    if index is None:
        return None
    doubt = INDEX_DOUBT if piece.nominal.index_wavelength_nm is not None else 2 * INDEX_DOUBT
    n, angle = float(index), float(channel)
    expected = fresnel(n, angle)
    sides = (abs(fresnel(max(1.0, n + step), angle) - expected) for step in (-doubt, doubt))
    return Decimal(f"{expected:.2f}"), Decimal(f"{max(sides) + POLISH_GU:.2f}")


def _tile(piece: Piece, c: Certificate) -> Iterator[str]:
    found = fresnel_gloss(piece, c.channel)
    if found is None:
        return
    expected, doubt = found
    if abs(c.value - expected) > doubt + c.expanded_uncertainty:
        yield (
            f"{_whose(c)} says {c.value} GU ± {c.expanded_uncertainty}, but polished glass of "
            f"refractive index {piece.nominal.refractive_index} reads {expected} GU ± {doubt} "
            f"there (Fresnel, ISO 2813){_index_of(c)}. Next: compare index, geometry and value "
            "with the paper"
        )


def _index_of(c: Certificate) -> str:
    """What index would read the certified value; empty where no glass does."""
    try:
        index = index_from_gloss(float(c.value), float(c.channel))
    except ValueError:
        return ""
    return f"; {c.value} GU would be an index of {index:.3f}"


def _weight(piece: Piece, c: Certificate) -> Iterator[str]:
    nominal = piece.nominal
    mass = nominal.mass_g
    if mass is None:
        return
    allowed_g = None if nominal.weight_class is None else mpe_g(mass, nominal.weight_class)
    if nominal.weight_class is not None and allowed_g is None:
        yield (
            f"{piece.id}: class {nominal.weight_class} has no limit for {_plain(mass)} g "
            "(OIML R 111-1 has 1, 2 and 5 times a power of ten), so only a slip would be found"
        )
    gravity, share = nominal.gravity_m_s2, COARSE_SHARE * mass
    if gravity is None:
        # Anywhere on earth: a limit of a few milligrams cannot be seen behind 0.3 % of gravity.
        least, most = pull_n(mass, LEAST_GRAVITY), pull_n(mass, MOST_GRAVITY)
        slack = pull_n(allowed_g if allowed_g is not None else share, STANDARD_GRAVITY)
        where = "anywhere on earth"
    else:
        least = most = pull_n(mass, gravity)
        slack = pull_n(allowed_g if allowed_g is not None else share, gravity)
        where = f"at {gravity} m/s²"
    u = c.expanded_uncertainty
    if least - slack - u <= c.value <= most + slack + u:
        return
    told = f"{_plain(mass)} g" + (
        f" of class {nominal.weight_class} (± {_plain(allowed_g * 1000)} mg, OIML R 111-1)"
        if allowed_g is not None
        else ""
    )
    pulls = _newton(least) if least == most else f"{_newton(least)} to {_newton(most)}"
    text = (
        f"{_whose(c)} says {_newton(c.value)} N ± {_newton(u)}, but {told} pulls with {pulls} N "
        f"{where}"
    )
    if gravity is not None and _is_mass_as_force(c, mass, slack):
        yield (
            f"{text}: the value is its mass taken as gram-force, which holds for standard gravity "
            f"({STANDARD_GRAVITY} m/s²). Next: enter the force here, {_newton(most)} newton"
        )
    else:
        yield f"{text}. Next: compare mass, unit and value with the paper"


def _is_mass_as_force(c: Certificate, mass_g: Decimal, slack_n: Decimal) -> bool:
    as_force = mass_g / 1000 * STANDARD_GRAVITY
    return abs(c.value - as_force) <= slack_n + c.expanded_uncertainty


def _known(value: Decimal, why: str) -> Callable[[Piece, Certificate], Iterator[str]]:
    def rule(_: Piece, c: Certificate) -> Iterator[str]:
        if abs(c.value - value) > c.expanded_uncertainty:
            unit = symbol(c.unit)
            yield (
                f"{_whose(c)} says {c.value} {unit} ± {c.expanded_uncertainty}, but {why}. "
                "Next: look whether value and kind of the piece are right"
            )

    return rule


def _nominal(piece: Piece, c: Certificate) -> Iterator[str]:
    nominal = piece.nominal.values.get(c.channel)
    if nominal is None:
        return
    allowed = NOMINAL_SHARE * nominal + c.expanded_uncertainty
    if abs(c.value - nominal) > allowed:
        unit = symbol(c.unit)
        yield (
            f"{_whose(c)} says {c.value} {unit} ± {c.expanded_uncertainty}, far from its nominal "
            f"{nominal} {unit}. Next: compare channel and value with the paper"
        )


_Rule = Callable[[Piece, Certificate], Iterator[str]]
_RULES: dict[PieceKind, tuple[_Rule, ...]] = {
    PieceKind.GLOSS_TILE: (_tile, _nominal),
    PieceKind.BLACK_TRAP: (_known(Decimal(0), "a black trap sends nothing back"), _nominal),
    PieceKind.NO_LOAD: (_known(Decimal(0), "nothing hangs on the gauge"), _nominal),
    PieceKind.CHECK_WEIGHT: (_weight, _nominal),
    PieceKind.NEUTRAL_FILTER: (_nominal,),
    PieceKind.OPEN_BEAM: (_known(Decimal(100), "an open beam is 100 % by definition"), _nominal),
    PieceKind.DARK: (_known(Decimal(0), "nothing passes when the beam is closed"), _nominal),
}


def _whose(c: Certificate) -> str:
    return f"the certificate of {c.piece}{at_channel(c.channel)}"


def _newton(value: Decimal) -> str:
    return f"{value:.5f}"


def _plain(value: Decimal) -> str:
    return f"{value.normalize():f}"
