"""The weighting tables that come with Coatbench, and the definitions made of them.

Each table is a small CSV beside this module; its first lines say what it is, its source with the
edition, and whether its figures are a density over wavelength or ordinates that have the step in
them. A table is read once and never changed. This is the only file that the analysis reads, and
it belongs to the program as the code does. Any thread.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import numpy as np

from acquire.analysis.transmission.definition import (
    BANDS,
    UV_300_380,
    UVA,
    UVB,
    VISIBLE,
    Band,
    Definition,
    Rule,
    Vector,
    Weights,
)

TABLES = {
    "am15_global.csv": ("AM1.5 global (ASTM G173-03)", Rule.DENSITY),
    "d65_v_lambda.csv": ("D65 and V(λ) at 1 nm (CIE)", Rule.DENSITY),
    "iso9050_1990_table1.csv": ("D65 and V(λ) at 10 nm (ISO 9050:1990 table 1)", Rule.ORDINATES),
    "iso9050_1990_table4.csv": ("ISO 9050:1990 table 4, 297.5 to 377.5 nm", Rule.ORDINATES),
    "iso9050_2003_uv.csv": ("ISO 9050:2003 and EN 410:2011, rebuilt", Rule.ORDINATES),
}
_FOLDER = files(__package__) / "weights"


@cache
def columns(name: str) -> tuple[str, tuple[Vector, ...]]:
    """The source line of a table and its columns as written, the wavelengths in nm first."""
    lines = (_FOLDER / name).read_text(encoding="utf-8").splitlines()
    notes = [line[2:] for line in lines if line.startswith("# ")]
    source = next(n.removeprefix("Source: ") for n in notes if n.startswith("Source: "))
    rows = [line.split(",") for line in lines if not line.startswith("#")][1:]
    return source, tuple(np.array([float(row[k]) for row in rows]) for k in range(len(rows[0])))


@cache
def table(name: str) -> Weights:
    """A table by the name of its file; several columns of weights are multiplied."""
    shown, rule = TABLES[name]
    source, (wavelength_nm, *weights) = columns(name)
    product = np.prod(np.array(weights), axis=0)
    return Weights(shown, rule, wavelength_nm.copy(), product, source)


def am15() -> Weights:
    """Sunlight: ASTM G173-03, global on 37 degrees of tilt, W/m2 per nm, 280 to 2500 nm."""
    return table("am15_global.csv")


def d65_v() -> Weights:
    """Daylight D65 times V(lambda) (CIE), 380 to 780 nm at 1 nm."""
    return table("d65_v_lambda.csv")


def every(weights: Weights, step_nm: float) -> Weights:
    """A density taken at every `step_nm` of its range, as ordinates: the sum at a coarser step.

    Near a sharp edge a sum at 5 or 10 nm differs from that at 1 nm in the second decimal, so the
    step goes into the name. Raises ValueError where the table has no point at such a wavelength.
    """
    x = weights.wavelength_nm
    wanted = np.arange(x[0], x[-1] + step_nm / 2, step_nm)
    at = np.searchsorted(x, wanted)
    if not (step_nm > 0 and (at < x.size).all() and np.array_equal(x[at], wanted)):
        raise ValueError(f"{weights.name} has no point at every {step_nm:g} nm")
    name = f"{weights.name}, summed at {step_nm:g} nm"
    return Weights(name, Rule.ORDINATES, wanted, weights.weight[at].copy(), weights.source)


def even(lower_nm: float, upper_nm: float, step_nm: float) -> Weights:
    """Equal ordinates from limit to limit, both counted in full.

    The arithmetic mean at 5 nm is the way of AS/NZS 4399 (from memory), with 290 to 315 nm for
    ultraviolet B. Raises ValueError where the step does not divide the band.
    """
    count = round((upper_nm - lower_nm) / step_nm) + 1
    at: Vector = lower_nm + step_nm * np.arange(count, dtype=np.float64)
    if count < 2 or at[-1] != upper_nm:
        raise ValueError(f"{step_nm:g} nm does not divide {lower_nm:g} to {upper_nm:g} nm")
    name = f"arithmetic mean at {step_nm:g} nm"
    return Weights(name, Rule.ORDINATES, at, np.ones(count), "AS/NZS 4399 (from memory)")


def standard_definitions() -> tuple[Definition, ...]:
    """Every band with every weighting that belongs to it, the plain mean of each band first.

    Ultraviolet and infrared with sunlight, visible with D65 and V(lambda), and 300 to 380 nm also
    by the tables of ISO 9050. The table of 1990 is of mid-points from 297.5 nm on, so its band is
    told as 295 to 380 nm.
    """
    found = [Definition(band) for band in BANDS]
    found += [Definition(band, am15()) for band in BANDS if band is not VISIBLE]
    found += [
        Definition(VISIBLE, d65_v()),
        Definition(VISIBLE, table("iso9050_1990_table1.csv")),
        Definition(Band(295, 380, "UV"), table("iso9050_1990_table4.csv")),
        Definition(UV_300_380, table("iso9050_2003_uv.csv")),
        Definition(UVA, even(315, 400, 5)),
        Definition(Band(290, UVB.upper_nm, "UVB"), even(290, 315, 5)),
    ]
    return tuple(found)
