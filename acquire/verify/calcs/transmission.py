"""Transmission: from the words of a case file to the calls of the analysis and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from acquire.analysis.transmission import film, lamp, meter, slab, stray
from acquire.analysis.transmission.bandvalue import band_value
from acquire.analysis.transmission.definition import (
    NEAR_INFRARED_1400,
    NEAR_INFRARED_2500,
    SOLAR,
    UV_300_380,
    UV_300_400,
    UVA,
    UVB,
    VISIBLE,
    Band,
    Definition,
)
from acquire.analysis.transmission.spectrum import (
    Scan,
    Spectrum,
    spectrum,
    transmittance_spectrum,
)
from acquire.analysis.transmission.weights import am15, d65_v, even, every, table
from acquire.verify.calcs.answer import UNDEFINED, Answer, said

_POINTS = np.array([500.0, 600.0])
"""Of counts without a wavelength: any, two being the fewest of a spectrum."""


def _read(i: Mapping[str, Any]) -> Spectrum:
    return spectrum(
        "case", np.array(i["wavelength_nm"], float), np.array(i["transmittance"], float)
    )


def _bands(i: Mapping[str, Any], wanted: Mapping[str, Definition]) -> Answer:
    read = _read(i)
    return {name: said(band_value(read, d).value) for name, d in wanted.items()}


def luminous(i: Mapping[str, Any]) -> Answer:
    return _bands(
        i,
        {
            "tau_v_1nm": Definition(VISIBLE, d65_v()),
            "tau_v_5nm": Definition(VISIBLE, every(d65_v(), 5)),
            "tau_v_10nm_ISO9050_1990_T1": Definition(VISIBLE, table("iso9050_1990_table1.csv")),
        },
    )


def ultraviolet(i: Mapping[str, Any]) -> Answer:
    return _bands(
        i,
        {
            "UVA_315_400": Definition(UVA, am15()),
            "UVB_280_315": Definition(UVB, am15()),
            "UV_300_380": Definition(UV_300_380, am15()),
            "UV_300_400": Definition(UV_300_400, am15()),
            "UVA_mean_unweighted_5nm_18pts": Definition(UVA, even(315, 400, 5)),
            "UVB_mean_unweighted_5nm_290_315_6pts": Definition(Band(290, 315), even(290, 315, 5)),
            "UV_300_380_ISO9050_1990_T4": Definition(
                Band(295, 380), table("iso9050_1990_table4.csv")
            ),
            "UV_300_380_rebuilt_2003_weights": Definition(UV_300_380, table("iso9050_2003_uv.csv")),
        },
    )


def infrared(i: Mapping[str, Any]) -> Answer:
    return _bands(
        i,
        {
            "IR_780_2500": Definition(NEAR_INFRARED_2500, am15()),
            "IRA_780_1400": Definition(NEAR_INFRARED_1400, am15()),
            "solar_300_2500": Definition(SOLAR, am15()),
        },
    )


_WEIGHTS = {"AM1.5": am15, "D65 V": d65_v}


def band(i: Mapping[str, Any]) -> Answer:
    weights = _WEIGHTS.get(i["weights"])
    if weights is None:
        raise ValueError(f"weights of {' or '.join(_WEIGHTS)} are wanted, got {i['weights']}")
    return _bands(i, {"T": Definition(Band(i["from_nm"], i["to_nm"]), weights())})


def band_lamp(i: Mapping[str, Any]) -> Answer:
    read = _read(i)
    seen = band_value(read, lamp.bell_lamp(i["centre_nm"], i["fwhm_nm"]))
    return {"T": said(seen.value), "T_at_centre": said(read.at(i["centre_nm"]))}


def slab_transmittance(i: Mapping[str, Any]) -> Answer:
    inside = (
        slab.internal_transmittance(i["k"], i["wavelength_nm"], i["thickness_mm"])
        if "k" in i
        else 1.0
    )
    found = slab.slab(i["n"], inside)
    return {
        "R_one_surface": found.one_face,
        "T_slab": found.transmittance,
        "T_first_pass_only": found.first_pass,
        "tau_internal": found.internal,
    }


def film_on_slide(i: Mapping[str, Any]) -> Answer:
    inside = i.get("tau_film_internal", 1.0)
    coated = slab.film_on_slide(i["n_film"], i["n_slide"], inside)
    ratio = film.film_ratio(coated, slab.slab(i["n_slide"]).transmittance)
    return {"T_coated": coated, "ratio": ratio, "bias": ratio - inside}


def thickness(i: Mapping[str, Any]) -> Answer:
    return {"tau_i2": film.thicker(i["tau_i"], i["d1"], i["d2"])}


def film_from_blank(i: Mapping[str, Any]) -> Answer:
    found = film.film(i["T_sample"], i["T_blank"])
    return {
        "T_film": found.transmittance,
        "A_film": said(found.absorbance),
        "blocking_pct": 100 * found.blocking,
    }


def film_uncertainty(i: Mapping[str, Any]) -> Answer:
    sample = meter.variable("sample", i["T_sample"], i["u_s"])
    blank = meter.variable("blank", i["T_blank"], i["u_b"])
    ratio = film.film_ratio(sample, blank)
    budget = meter.budget_of("film transmittance", "1", ratio)
    return {"T_film": ratio.nominal_value, "u": budget.combined}


def chain(i: Mapping[str, Any]) -> Answer:
    def counts(name: str, at_s: float = 0.0, level: float | None = None) -> Scan:
        read = np.full_like(_POINTS, i[name] if level is None else level)
        return Scan(name, read, np.zeros_like(_POINTS), at_s)

    sample, dark = counts("sample", i["t_sample_s"]), counts("dark")
    before, after = counts("open_before", i["t_before_s"]), counts("open_after", i["t_after_s"])

    def read(dark: Scan, after: Scan | None) -> Any:
        found = transmittance_spectrum(_POINTS, sample, dark, before, after)
        return float(found.values[0]) if found.is_there[0] else UNDEFINED

    return {
        "T": read(dark, after),
        "T_no_dark": read(counts("dark", level=0.0), after),
        "T_no_drift": read(dark, None),
    }


def stray_light(i: Mapping[str, Any]) -> Answer:
    s = i["s"]
    answer: Answer = {"A_max": said(stray.largest_absorbance(s))}
    if "T_true" in i:
        read = stray.with_stray(i["T_true"], s)
        answer |= {
            "T_measured": read,
            "A_measured": said(film.absorbance(read)),
            "T_recovered": stray.without_stray(read, s),
        }
    return answer


CALCS = {
    "transmission.band": band,
    "transmission.band_lamp": band_lamp,
    "transmission.chain": chain,
    "transmission.film_from_blank": film_from_blank,
    "transmission.film_on_slide": film_on_slide,
    "transmission.film_uncertainty": film_uncertainty,
    "transmission.infrared": infrared,
    "transmission.luminous": luminous,
    "transmission.slab": slab_transmittance,
    "transmission.stray_light": stray_light,
    "transmission.thickness": thickness,
    "transmission.ultraviolet": ultraviolet,
}
