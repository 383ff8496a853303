"""A plan written as a trial file is read again as the same plan."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from acquire.model import (
    Design,
    DriftCorrection,
    EndOfLife,
    Layout,
    Order,
    Panel,
    Plan,
    Quantity,
    Rated,
    Scale,
    Treatment,
)
from acquire.model.plan import Measure
from acquire.model.sled import Angle, SledCorrection, SledSpec, SteadyWindow
from acquire.settings import config_dir, load_plan, parse_plan
from acquire.settings.scale_files import load_scale, shipped_scales
from acquire.trial.dealing import Grid, dealt
from acquire.trial.writing import plan_text

NAMES = (
    'a "quoted" \\ back\\slash',
    "it's <b>HTML</b> & [brackets] # no comment",
    "emoji \N{LOBSTER}\N{ZERO WIDTH JOINER}\N{ROCKET} \u05d0\u05d1",
    "x" * 200,
    "'''\"\"\"",
    "../../etc; rm -rf",
)


def read_again(plan: Plan) -> Plan:
    return replace(parse_plan(plan_text(plan), "trial.toml"), text="", digest="")


def test_the_shipped_trial_comes_out_again() -> None:
    plan = replace(load_plan(config_dir() / "boatyard" / "trial.toml"), text="", digest="")
    assert read_again(plan) == plan


def hard_plan() -> Plan:
    """Everything a file can say, in names that are hard to write."""
    treatments = (
        Treatment("none", "untreated", True),
        *(Treatment(f"p{k}", name) for k, name in enumerate(NAMES)),
    )
    stages = ("bare", "applied", "wash.5", "wash_10")
    sled = SledSpec(
        Decimal("0.2030"), Decimal("0.0001"), "203.0 g", Decimal("9.81"),
        (SledCorrection.ZERO, SledCorrection.TILT), None, Angle(Decimal("-1.5"), Decimal("0.25")),
        SteadyWindow(Decimal(2), Decimal(10), Decimal("3.5")),
    )  # fmt: skip
    span = Decimal(0), Decimal("0.000001")
    return Plan(
        id="quay.1", title=NAMES[0], panel=f"{NAMES[1]}, {NAMES[2]}; Panel 2",
        treatments=treatments,
        zones=dealt(
            [t.id for t in treatments], "none", Grid(("P1", "P2"), 3, 7), Design.COMPLETE_BLOCKS, 4
        ),
        stages=stages,
        measures=(
            Measure("gloss", Quantity.GLOSS, ("20", "60"), "gloss_unit", stages, 5,
                    Order.SHUFFLED, 9, True, Decimal("1.50"), (Decimal(0), Decimal(110)),
                    DriftCorrection.GAIN, EndOfLife(below=Decimal("0.80"))),
            Measure("slip", Quantity.FORCE, ("",), "newton", stages[:3], 3, Order.BY_ZONE, 0,
                    False, Decimal("0.02"), None, DriftCorrection.NONE,
                    EndOfLife(lost=Decimal("0.5")), sled),
            Measure("uva", Quantity.TRANSMITTANCE, ("315-400", "940"), "percent", stages[:2], 2,
                    Order.INTERLEAVED, 0, False, None, span),
        ),
        unchecked=True, text="", digest="",
        washes=(("wash.5", 5), ("wash_10", 10)),
        panels=(Panel("P1", NAMES[1], NAMES[2]), Panel("P2", "Panel 2")),
        layout=Layout(Design.COMPLETE_BLOCKS, 4),
        cure_hours=(("applied", Decimal("1.5")),),
        recipe=(("shampoo", NAMES[0]), ("notes", NAMES[4])),
        scales=(
            Scale("water", NAMES[1], Rated.ZONE, NAMES[:3], stages[1:], 2),
            Scale("smell", NAMES[2], Rated.TREATMENT, NAMES[3:5]),
        ),
        key_digest="0" * 64,
    )  # fmt: skip


def test_a_plan_with_everything_and_hard_names_comes_out_again() -> None:
    plan = hard_plan()
    assert read_again(plan) == plan


def test_the_shipped_scales_can_be_read_and_fit_a_trial() -> None:
    stages = ("bare", "applied", "wash-5")
    shipped = shipped_scales()
    assert sorted(shipped) == ["application", "dust", "look", "removal", "smell", "water"]
    scales = tuple(load_scale(path, stages, is_washed=True) for path in shipped.values())
    plan = load_plan(config_dir() / "boatyard" / "trial.toml")
    plan = replace(plan, scales=scales, text="", digest="")
    assert read_again(plan) == plan
    water = load_scale(shipped["water"], stages[:2], is_washed=False)
    assert (water.gone_below, water.stages) == (None, ("applied",))
