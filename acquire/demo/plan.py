"""The plan of the demo: how the tester makes it, and the commands that show it."""

from __future__ import annotations

from pathlib import Path

from acquire.demo.scenario import SOURCE
from acquire.demo.tester import Tester
from acquire.demo.truth import CONTROL, PRODUCTS
from acquire.demo.typed import Typed
from acquire.model import Quantity, StudyKind
from acquire.schema import load_text
from acquire.study.writing import ALONE, MEASURE, Wanted, spot_names, study_text

TRIAL = "gelcoat-1"
GLOSS, FILM = "gloss-20", "transmission-315-400"
LAYOUT_SEED = 402
SPOTS, STUDY_READINGS = ("A1", "A3", "A5", "B2", "B4"), 6
RATERS = ("Ines", "Marten")
APPLIES = "Jonas"

_OPTIONS = (
    ("--id", TRIAL),
    ("--title", "Demo, played in a minute: five protectants on dark gelcoat"),
    *(("--product", name) for name in PRODUCTS),
    ("--control", CONTROL),
    ("--panel", "Panel G2"),
    ("--material", "dark blue gelcoat, sanded and polished"),
    ("--grid", "2x6"),
    ("--measure", GLOSS),
    ("--measure", "slickness"),
    ("--measure", FILM),
    ("--sled", "200.0 g"),
    ("--sled-uncertainty", "0.1 g"),
    ("--want", f"{GLOSS}=1"),
    ("--replicates", f"{GLOSS}=5"),
    ("--replicates", "slickness=2"),
    ("--replicates", f"{FILM}=2"),
    ("--washes", "5,10"),
    ("--scale", "water"),
    ("--scale", "removal"),
    ("--seed", str(LAYOUT_SEED)),
)


def make_study(tester: Tester, typed: Typed) -> None:
    """How much the gloss meter scatters on this panel, which the plan then goes by."""
    wanted = Wanted(
        StudyKind.REPEATABILITY, "shore", Quantity.GLOSS, ("20",), len(SPOTS), STUDY_READINGS, (),
        "Panel G2, bare",
    )  # fmt: skip
    lies = dict(zip(spot_names(len(SPOTS)), SPOTS, strict=True))
    tester.fill(study_text(1, wanted), "study 1", MEASURE, ALONE, "shore", lies=lies)
    typed.type("study", "--show", "1")


def make_plan(typed: Typed, folder: Path) -> Path:
    """Plan the trial, blind, and add two measures by hand; gives the trial file."""
    options = (word for option in _OPTIONS for word in option)
    typed.type("trial", "new", "--yes", "--blind", *options)
    file = folder / f"{TRIAL}.toml"
    more = load_text(SOURCE / "measures.toml")
    file.write_text(f"{load_text(file)}\n\n{more}", encoding="utf-8")
    return file
