"""Whether a certificate can be true of its piece, against figures from outside this program."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from acquire.calibration.due import DueState, due_of, to_renew
from acquire.calibration.plausibility import findings, fresnel_gloss
from acquire.calibration.weights import mpe_g, pull_n
from acquire.fresnel import largest_gloss
from acquire.model import Certificate, Nominal, Piece, PieceKind, Quantity, WeightClass
from acquire.verify.casefile import Case
from tests.reference.shipped import CASES

# Fresnel equations, unpolarised light, ratio to n = 1.567 as in ISO 2813:2014, 3.3; each case
# names its source. Printed tables give one decimal, from memory.
ANGLES_DEG = (20, 60, 85)
TILES = [
    case
    for case in CASES
    if case.calc == "gloss.fresnel" and tuple(case.inputs["angles_deg"]) == ANGLES_DEG
]

QUANTITIES = {
    PieceKind.CHECK_WEIGHT: (Quantity.FORCE, "newton"),
    PieceKind.NO_LOAD: (Quantity.FORCE, "newton"),
    PieceKind.GLOSS_TILE: (Quantity.GLOSS, "gloss_unit"),
    PieceKind.BLACK_TRAP: (Quantity.GLOSS, "gloss_unit"),
}


def piece(
    kind: PieceKind, value: str, u: str, channel: str = "", nominal: Nominal | None = None
) -> Piece:
    quantity, unit = QUANTITIES.get(kind, (Quantity.TRANSMITTANCE, "percent"))
    certificate = Certificate(
        "P1", quantity, channel, Decimal(value), unit, Decimal(u), Decimal(2),
        date(2026, 1, 31), date(2027, 1, 31), "Harbour Metrology",
    )  # fmt: skip
    return Piece("P1", kind, (certificate,), nominal=nominal or Nominal())


def tile(value: str, n: str, angle: str = "20", nm: str | None = "587.6", u: str = "0.4") -> Piece:
    index = Nominal(Decimal(n), Decimal(nm) if nm is not None else None)
    return piece(PieceKind.GLOSS_TILE, value, u, angle, index)


def weight(
    value: str, mass: str, accuracy: str | None = None, g: str | None = None, u: str = "0.0001"
) -> Piece:
    nominal = Nominal(
        mass_g=Decimal(mass),
        weight_class=WeightClass(accuracy) if accuracy else None,
        gravity_m_s2=Decimal(g) if g else None,
    )
    return piece(PieceKind.CHECK_WEIGHT, value, u, nominal=nominal)


@pytest.mark.parametrize("case", TILES, ids=lambda case: case.id)
def test_a_tile_that_reads_as_its_index_says_is_plausible_at_every_angle(case: Case) -> None:
    for angle in ANGLES_DEG:
        value, n = case.expected[f"G{angle}"], str(case.inputs["n"])
        found = fresnel_gloss(tile(str(value), n, str(angle)), str(angle))
        assert found is not None
        assert float(found[0]) == pytest.approx(value, abs=0.0101)
        assert findings(tile(f"{value:.1f}", n, str(angle))) == []


@pytest.mark.parametrize("case", TILES, ids=lambda case: case.id)
def test_a_tile_of_an_index_a_twentieth_off_is_found_where_the_angle_shows_it(case: Case) -> None:
    # At 85 degrees nearly everything is sent back, whatever the index.
    other = f"{case.inputs['n'] + 0.05:.4f}"
    for angle in (20, 60):
        (text,) = findings(tile(f"{case.expected[f'G{angle}']:.1f}", other, str(angle)))
        assert f"refractive index {other}" in text


def test_a_finding_has_all_its_figures_and_a_next_step() -> None:
    # n = 1.567 reads 100 GU at every angle by definition (ISO 2813).
    (text,) = findings(tile("91.4", "1.567"))
    assert text == (
        "the certificate of P1 at 20° says 91.4 GU ± 0.4, but polished glass of refractive index "
        "1.567 reads 100.00 GU ± 1.87 there (Fresnel, ISO 2813); 91.4 GU would be an index of "
        "1.535. Next: compare index, geometry and value with the paper"
    )


def test_a_value_that_no_glass_reads_names_no_index() -> None:
    # At 60 degrees an index of 1.9 reads 148 GU (Fresnel).
    (text,) = findings(tile("180", "1.567", "60"))
    assert "(Fresnel, ISO 2813). Next" in text


def test_an_index_without_its_wavelength_is_in_more_doubt() -> None:
    assert findings(tile("97.4", "1.567"))
    assert findings(tile("97.4", "1.567", nm=None)) == []


def test_a_tile_without_an_index_is_not_compared() -> None:
    assert findings(piece(PieceKind.GLOSS_TILE, "12.0", "0.4", "20")) == []


@pytest.mark.parametrize(
    ("angle", "part"),
    # Reflectance of n = 1.567 at normal incidence is ((n - 1)/(n + 1))^2 = 0.048788; the angles of
    # gloss send back 4.908, 10.006 and 61.92 % (Fresnel, computed by hand calculator).
    [(20, 0.04908), (60, 0.10006), (85, 0.6192)],
)
def test_no_surface_sends_back_more_than_all_light(angle: int, part: float) -> None:
    assert largest_gloss(angle) == pytest.approx(100 / part, rel=2e-4)


@pytest.mark.parametrize(
    ("mass_g", "accuracy", "mg"),
    # OIML R 111-1:2004, table 1, in milligrams.
    [
        ("1000", "E1", "0.5"), ("1000", "E2", "1.6"), ("1000", "F1", "5"), ("1000", "F2", "16"),
        ("1000", "M1", "50"), ("1000", "M2", "160"), ("1000", "M3", "500"),
        ("500", "M1", "25"), ("200", "M1", "10"), ("200", "M3", "100"), ("100.0", "F1", "0.5"),
        ("2", "E2", "0.04"), ("0.1", "M2", "1.6"), ("0.001", "M1", "0.2"), ("5000", "F2", "80"),
    ],
)  # fmt: skip
def test_the_classes_of_weights_have_their_limits(mass_g: str, accuracy: str, mg: str) -> None:
    assert mpe_g(Decimal(mass_g), WeightClass(accuracy)) == Decimal(mg) / 1000


@pytest.mark.parametrize(("mass_g", "accuracy"), [("150", "M1"), ("0.5", "M3"), ("0.05", "M2")])
def test_a_class_has_no_limit_where_the_table_has_none(mass_g: str, accuracy: str) -> None:
    assert mpe_g(Decimal(mass_g), WeightClass(accuracy)) is None


def test_a_weight_pulls_with_its_mass_times_gravity_less_what_the_air_bears() -> None:
    # 0.5 kg x 9.80665 m/s2 = 4.903325 N (CGPM 1901); air of 1.2 kg/m3 bears 0.015 % of steel of
    # 8000 kg/m3 (conventional mass, OIML D 28).
    assert pull_n(Decimal(500), Decimal("9.80665")) == Decimal("4.903325") * Decimal("0.99985")


def test_a_weight_within_its_class_is_plausible_where_gravity_is_known() -> None:
    assert findings(weight("4.9061", "500", "M1", "9.8137")) == []


def test_a_weight_beyond_its_class_is_told_with_the_limit_of_the_class() -> None:
    # A tenth of a gram is four times the 25 mg of M1.
    (text,) = findings(weight("4.9071", "500", "M1", "9.8137"))
    assert "500 g of class M1 (± 25 mg, OIML R 111-1) pulls with 4.90611 N at 9.8137 m/s²" in text


def test_a_mass_entered_as_gram_force_is_told_to_be_that_where_gravity_is_another() -> None:
    (text,) = findings(weight("4.903325", "500", "M1", "9.8137"))
    assert "its mass taken as gram-force" in text
    assert "enter the force here, 4.90611 newton" in text


def test_without_gravity_a_mass_as_gram_force_may_be_true_and_a_slip_is_still_found() -> None:
    assert findings(weight("4.903325", "500", "M1")) == []
    # Grams typed as newtons, and the weight of another line.
    assert findings(weight("500", "500", "M1"))
    (text,) = findings(weight("1.96133", "500", "M1"))
    assert "pulls with 4.87927 to 4.91926 N anywhere on earth" in text


def test_a_class_without_a_limit_for_the_mass_is_told_and_only_a_slip_is_found() -> None:
    (text,) = findings(weight("1.471", "150", "M1"))
    assert "class M1 has no limit for 150 g" in text
    assert len(findings(weight("2.0", "150", "M1"))) == 2


@pytest.mark.parametrize(
    ("kind", "right", "wrong", "channel"),
    [
        (PieceKind.OPEN_BEAM, "99.9", "98.0", "940"),
        (PieceKind.DARK, "0.1", "0.5", "940"),
        (PieceKind.NO_LOAD, "0.05", "0.2", ""),
        (PieceKind.BLACK_TRAP, "0.1", "1.2", "20"),
    ],
)
def test_what_is_nothing_or_everything_is_certified_so(
    kind: PieceKind, right: str, wrong: str, channel: str
) -> None:
    assert findings(piece(kind, right, "0.1", channel)) == []
    assert len(findings(piece(kind, wrong, "0.1", channel))) == 1


def test_a_filter_far_from_its_nominal_value_is_told_by_band() -> None:
    nominal = Nominal(values={"315-400": Decimal(50)})
    assert findings(piece(PieceKind.NEUTRAL_FILTER, "45", "0.3", "315-400", nominal)) == []
    (text,) = findings(piece(PieceKind.NEUTRAL_FILTER, "5", "0.3", "315-400", nominal))
    assert "at 315-400 nm says 5 % ± 0.3, far from its nominal 50 %" in text
    assert findings(piece(PieceKind.NEUTRAL_FILTER, "5", "0.3", "940", nominal)) == []


@pytest.mark.parametrize(
    ("day", "left", "state"),
    [
        (date(2026, 1, 30), 366, DueState.NOT_YET),
        (date(2026, 12, 31), 31, DueState.VALID),
        (date(2027, 1, 1), 30, DueState.DUE_SOON),
        (date(2027, 1, 31), 0, DueState.DUE_SOON),
        (date(2027, 2, 1), -1, DueState.OVERDUE),
    ],
)
def test_a_certificate_is_due_soon_to_its_last_day_and_overdue_after(
    day: date, left: int, state: DueState
) -> None:
    (certificate,) = tile("91.4", "1.535").certificates
    found = due_of(certificate, day, 30)
    assert (found.days_left, found.state) == (left, state)


def test_certificates_of_one_piece_that_end_together_are_told_together() -> None:
    own = [tile("91.4", "1.535", angle).certificates[0] for angle in ("20", "60")]
    (due,) = to_renew(own, date(2027, 1, 19), 30)
    assert due.words == "certificate of P1 at 20°, 60° due soon: 12 days left, 2027-01-31"
    (due,) = to_renew(own, date(2027, 2, 19), 30)
    assert due.words == "certificate of P1 at 20°, 60° OVERDUE since 2027-01-31"
    assert to_renew(own, date(2026, 6, 1), 30) == []
