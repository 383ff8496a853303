"""Gloss: from the words of a case file to the calls of the analysis and back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from acquire.analysis import gloss
from acquire.analysis.checks import drift
from acquire.fresnel import fresnel, index_from_gloss
from acquire.verify.calcs.answer import UNDEFINED, Answer


def gloss_fresnel(i: Mapping[str, Any]) -> Answer:
    return {f"G{a:g}": fresnel(i["n"], a, i["n_ref"]) for a in i["angles_deg"]}


def gloss_index(i: Mapping[str, Any]) -> Answer:
    return {"n": index_from_gloss(i["G"], i["angle_deg"])}


def gloss_scale(i: Mapping[str, Any]) -> Answer:
    return {
        "G": gloss.two_point_scale(
            i["assigned"], i["tile_reading"], i["zero_reading"], i["sample_reading"]
        )
    }


def gloss_drift(i: Mapping[str, Any]) -> Answer:
    position = i["k_1based"] / (i["n_readings"] + 1)
    found = drift.gain_corrected(
        i["reading"], i["assigned"], i["tile_before"], i["tile_after"], position
    )
    return {"G": found.value}


def gloss_advice(i: Mapping[str, Any]) -> Answer:
    return {"geometry_deg": gloss.geometry_advice(i["G60"])}


def gloss_retention(i: Mapping[str, Any]) -> Answer:
    kept = gloss.retention(i["before"], i["after"])
    if kept is None:
        return dict.fromkeys(("retention_pct", "change_GU", "change_pct"), UNDEFINED)
    return {
        "retention_pct": kept.percent,
        "change_GU": kept.change,
        "change_pct": kept.change_percent,
    }


CALCS = {
    "gloss.drift_corrected": gloss_drift,
    "gloss.fresnel": gloss_fresnel,
    "gloss.geometry_advice": gloss_advice,
    "gloss.index_from_gloss": gloss_index,
    "gloss.retention": gloss_retention,
    "gloss.two_point_scale": gloss_scale,
}
