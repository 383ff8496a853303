"""Coefficients of a gauge that holds peaks, under checks with and without a piece of no load."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.analysis.comparisons.comparison import Comparison
from acquire.model import Certificate, Piece, PieceKind, PieceRule, Quantity, Reading
from acquire.report import write_report
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.record.loading import load_trial
from acquire.report.rows.export import Scope, records
from acquire.report.rows.resultrows import result_records
from acquire.report.terminal.summary import lines_of
from acquire.settings import parse_plan
from acquire.store.reader import StoreReader
from tests.streamed import PULLED
from tests.yard import Yard, bench

SLED = '\n[measure.sled]\nmass = "200 g"\nexpanded_uncertainty = "0.4 g"\n'
WEIGHT_N = 0.2 * 9.80665
ZERO_EARLIER = 2 / 65
"""The zero is read 2 s before the weight; both are read anew 65 s later."""
TRIAL = (
    """
[trial]
id = "peaks"
title = "Peaks that a gauge held"
stages = ["bare", "applied"]

"""
    + PULLED
)
PEAKS = {
    "bare": ("0.80", "0.82", "0.84", "0.81", "0.83", "0.85"),
    "applied": ("0.80", "0.82", "0.84", "0.30", "0.32", "0.34"),
}


class PeakYard(Yard):
    """A gauge ``puller``, checked with nothing on it and with 200 g, or with the weight alone."""

    def __init__(self, folder: Path, *, has_no_load: bool = True) -> None:
        self._names = ("W0", "W200") if has_no_load else ("W200",)
        super().__init__(folder)
        self.plug("puller")

    def open(self) -> None:
        plain = bench(self.bench.store)
        first = plain.instruments[0]
        policy = replace(
            first.policy,
            id="force",
            quantity=Quantity.FORCE,
            channels=("",),
            unit="newton",
            resolution=Decimal("0.01"),
            rules=tuple(PieceRule(n, 2, Decimal("0.1"), Decimal("0.1")) for n in self._names),
        )
        puller = replace(first, id="puller", kind=Quantity.FORCE, serial="PG-0031", policy=policy)
        self.bench = replace(
            plain,
            instruments=(puller,),
            pieces=tuple(
                Piece(name, kind, (_certificate(name, value),))
                for name, kind, value in (
                    ("W0", PieceKind.NO_LOAD, "0"),
                    ("W200", PieceKind.CHECK_WEIGHT, "1.96133"),
                )
            ),
        )
        super().open()

    def pulled(self, value: str) -> None:
        raw = f"{value} N\r\n".encode()
        at = self._offsets.get("puller", 0)
        self.take_in(
            "puller",
            Reading(Quantity.FORCE, "", Decimal(value), "newton", value, self.clock.now(), raw, at,
                    at + len(raw)),
        )  # fmt: skip

    def checked(self, no_load: str, weight: str) -> None:
        self.act(lambda at: self.acts.checks.begin("puller", at))
        values = {"W0": no_load, "W200": weight}
        for name in self._names:
            for _ in range(2):
                self.clock.advance(1)
                self.pulled(values[name])
        self.clock.advance(1)

    def run(self, stage: str, text: str) -> None:
        plan = parse_plan(text, "trial.toml")
        self.act(lambda at: self.acts.runs.begin(plan, "slick", stage, "puller", at))
        for value in PEAKS[stage]:
            self.clock.advance(10)
            self.pulled(value)
        self.act(lambda at: self.acts.runs.finish("", at))


def _certificate(name: str, value: str) -> Certificate:
    return Certificate(
        name, Quantity.FORCE, "", Decimal(value), "newton", Decimal("0.002"), Decimal(2),
        date(2026, 1, 31), date(2030, 1, 31), "Harbour Metrology",
    )  # fmt: skip


def _trial(folder: Path, sled: str = SLED, *, has_no_load: bool = True) -> Path:
    """The gauge's zero goes from 0.02 to 0.03 N while bare is read, and stays there."""
    yard = PeakYard(folder, has_no_load=has_no_load)
    yard.checked("0.02", "1.98")
    yard.run("bare", TRIAL + sled)
    yard.checked("0.03", "1.99")
    yard.run("applied", TRIAL + sled)
    yard.checked("0.03", "1.99")
    yard.close()
    return yard.bench.store


def _only(store: Path) -> Evidence:
    (one,) = evidence_of(load_trial(store, "peaks"))
    return one


def test_the_zero_that_the_checks_read_is_taken_off_along_its_line(tmp_path: Path) -> None:
    one = _only(_trial(tmp_path))
    assert one.what == "Static coefficient of friction"
    applied = one.result.level("B", "applied")
    assert applied is not None
    assert applied.cell.mean == pytest.approx((0.32 - 0.03) / WEIGHT_N)
    # The zone read first lies nearer to the opening check, and has less of the rise in it.
    first, second = (one.result.level(zone, "bare") for zone in ("A", "B"))
    assert first is not None
    assert second is not None
    assert first.cell.mean is not None
    assert second.cell.mean is not None
    for level, read in ((first, 0.82), (second, 0.83)):
        (held,) = level.cell.holdings
        # Positions are counted from when the weight was read, 2 s after the zero in both checks.
        zero = 0.02 + 0.01 * (sum(held.read.positions) / 3 + ZERO_EARLIER)
        assert level.cell.mean == pytest.approx((read - zero) / WEIGHT_N)
    assert second.cell.mean - first.cell.mean < 0.01 / WEIGHT_N


class Wandering(PeakYard):
    """A gauge of a fine display that shows 0.5 mN more each second, whatever is on it.

    Its checks keep 0.1 mN of what they read.
    """

    def pulled(self, value: str) -> None:
        since_s = (self.clock.now().mono_ns - self._began_ns) / 1e9
        super().pulled(f"{float(value) + 0.0005 * since_s:.6f}")

    def open(self) -> None:
        self._began_ns = self.clock.now().mono_ns
        super().open()


def test_a_zero_that_moves_evenly_while_a_check_lasts_leaves_nothing_in_the_coefficients(
    tmp_path: Path,
) -> None:
    yard = Wandering(tmp_path)
    yard.checked("0", "1.96133")
    yard.run("bare", TRIAL + SLED)
    yard.checked("0", "1.96133")
    yard.close()
    one = _only(yard.bench.store)
    for zone, read in (("A", 0.82), ("B", 0.83)):
        level = one.result.level(zone, "bare")
        assert level is not None
        assert level.cell.mean == pytest.approx(read / WEIGHT_N, abs=5e-5)
        assert level.budget is not None
        # Nor does the weight, read 2 s after the zero, look as if the gauge had a gain.
        assert level.budget.bias == pytest.approx(0.0, abs=5e-5)


def test_what_is_left_of_the_gauge_is_told_by_the_weight_without_its_zero(tmp_path: Path) -> None:
    one = _only(_trial(tmp_path))
    assert [a.opening.piece for a in one.anchors] == ["W200", "W200"]
    level = one.result.level("A", "applied")
    assert level is not None
    assert level.budget is not None
    # 1.99 less 0.03 less 1.96133: what the scale is off by at the weight, and no zero and no drift
    # any more. A reading has as much of it as it is of the weight.
    at_weight = 1.99 - 0.03 - 1.96133
    assert level.cell.mean is not None
    part = level.cell.mean * WEIGHT_N / 1.96133
    assert level.budget.bias * WEIGHT_N == pytest.approx(at_weight * part, abs=4e-5)
    assert part < 0.5
    assert any("gauge zero on" in rule for rule in one.result.rules)


def _text_of(store: Path, folder: Path) -> str:
    """The page, with plain spaces."""
    page = write_report(store, "peaks", folder / "page.html").read_text(encoding="utf-8")
    return page.replace("\u00a0", " ").replace("&nbsp;", " ")


def test_a_weight_that_stands_for_the_gauge_is_not_called_nearest_where_zero_lies_nearer(
    tmp_path: Path,
) -> None:
    """Pulls near 0.6 N: the piece of no load lies 0.6 N off, that of 1.96133 N 1.4 N."""
    store = _trial(tmp_path)
    page = _text_of(store, tmp_path)
    assert (
        "W200 stands for the meter, because its certified value of 1.96133 N lies nearest to the "
        "readings of those above zero; zero lies nearer, and shows no error that grows with the "
        "reading. Its deviations"
    ) in page
    alone = _trial(tmp_path / "alone", has_no_load=False)
    page = _text_of(alone, tmp_path)
    assert "certified value of 1.96133 N lies nearest to the readings. Its deviations" in page


def test_the_budget_of_a_coefficient_does_not_say_that_it_is_relative(tmp_path: Path) -> None:
    page = write_report(_trial(tmp_path), "peaks", tmp_path / "page.html")
    text = page.read_text(encoding="utf-8")
    assert "|c| u, as a coefficient" in text
    assert "u, relative" not in text


def _apart(one: Evidence, stage: str) -> float:
    """By how much more zone B has than zone A, the control."""
    b, a = (one.result.level(zone, stage) for zone in ("B", "A"))
    assert b is not None
    assert a is not None
    assert b.cell.mean is not None
    assert a.cell.mean is not None
    return b.cell.mean - a.cell.mean


def test_a_net_change_has_no_drift_left_in_it(tmp_path: Path) -> None:
    one = _only(_trial(tmp_path))
    found = one.result.comparison("wax", "applied")
    assert isinstance(found, Comparison)
    of_drift = [b for b in found.budget.biases if "drift" in b.name]
    assert [b.contribution for b in of_drift] == pytest.approx([0.0] * len(of_drift), abs=1e-12)
    # What the scale is off by is in each side by its share: the weight less 1.96133, which the
    # check has to 0.0001 N, less the zero when the weight was read.
    bare, applied = 0.0187 - 0.02 - 0.01 * ZERO_EARLIER, 0.0287 - 0.03
    grown = bare * -_apart(one, "bare") + applied * _apart(one, "applied")
    assert found.budget.bias == pytest.approx(grown / 1.96133, rel=1e-6)
    (certificate,) = [t for t in found.budget.terms if t.name.startswith("certificate")]
    assert certificate.contribution == pytest.approx(0.001 / 1.96133 * abs(found.estimate))
    read = [t for t in found.budget.terms if t.name.startswith("reading of check")]
    assert {t.name for t in read} <= {
        f"reading of check {n}, piece W200 less W0" for n in (1, 2, 3)
    }
    assert read
    for line in read:
        # Twice the same reading of each, so half a step of 0.01 N for either.
        assert line.u * WEIGHT_N == pytest.approx(0.01 / 12**0.5 * 2**0.5)
        assert line.note.startswith("u² = s²/n + step²/12 of W200 and of W0 (no load)")
    (mass,) = [t for t in found.budget.terms if t.name == "mass of the sled"]
    assert mass.contribution == pytest.approx(0.001 * abs(found.estimate))


def test_without_a_piece_of_no_load_the_zero_stays_and_the_page_says_so(tmp_path: Path) -> None:
    store = _trial(tmp_path, has_no_load=False)
    one = _only(store)
    level = one.result.level("B", "applied")
    assert level is not None
    assert level.cell.mean == pytest.approx(0.32 / WEIGHT_N)
    page = write_report(store, "peaks", tmp_path / "page.html").read_text(encoding="utf-8")
    assert "gauge zero wanted and off" in page


def test_the_zero_can_be_left_on_by_the_plan(tmp_path: Path) -> None:
    one = _only(_trial(tmp_path, SLED + "corrections = []\n"))
    level = one.result.level("B", "applied")
    assert level is not None
    assert level.cell.mean == pytest.approx(0.32 / WEIGHT_N)
    assert any("gauge zero off (the plan does not want it)" in r for r in one.result.rules)
    assert level.budget is not None
    # Its zero of 0.03 N, and as much of what it is off at the weight beside that as was pulled.
    of_scale = (1.99 - 1.96133 - 0.03) * 0.32 / 1.96133
    assert level.budget.bias * WEIGHT_N == pytest.approx(0.03 + of_scale, abs=4e-5)


def test_without_a_sled_all_stays_as_it_was(tmp_path: Path) -> None:
    store = _trial(tmp_path, "")
    one = _only(store)
    assert (one.what, one.result.unit, one.friction) == ("Force", "newton", None)
    page = write_report(store, "peaks", tmp_path / "page.html").read_text(encoding="utf-8")
    assert "Slickness: sled and pulls" not in page
    assert "sled of" not in page
    rows = list(result_records(load_trial(store, "peaks")))
    assert {r["coefficient"] for r in rows} == {None}


def test_peaks_have_no_traces_and_the_page_says_what_is_not_known(tmp_path: Path) -> None:
    store = _trial(tmp_path)
    page = write_report(store, "peaks", tmp_path / "page.html").read_text(encoding="utf-8")
    assert "Each force is a peak that the gauge held" in page
    assert "Every pull" not in page
    said = "\n".join(lines_of(store, "peaks"))
    assert "a gauge that holds its peak does not say how long the sled had stood" in said
    with StoreReader(store) as reader:
        rows = list(records(reader, Scope("peaks")))
    assert [r["kinetic_coefficient"] for r in rows] == [None] * 12
    last = float(str(rows[-1]["static_coefficient"]))
    assert last == pytest.approx((0.34 - 0.03) / WEIGHT_N, rel=1e-5)
    assert float(str(rows[-1]["value"])) == 0.34


# -- checks that closed nothing -------------------------------------------------------------------


def closed_by(folder: Path, *checks: tuple[str, str] | str) -> tuple[list[str], list[Comparison]]:
    """Both stages, then checks: one of two figures is whole, one of a single one broken off."""
    folder.mkdir()
    yard = PeakYard(folder)
    text = TRIAL + SLED + "corrections = []\n"
    yard.checked("0.00", "1.96")
    yard.run("bare", text)
    yard.checked("0.00", "1.96")
    yard.run("applied", text)
    for check in checks:
        yard.clock.advance(60)
        if isinstance(check, tuple):
            yard.checked(*check)
            continue
        yard.act(lambda at: yard.acts.checks.begin("puller", at))
        for _ in range(2):
            yard.pulled(check)
        yard.act(lambda at: yard.acts.checks.abandon("puller", at))
    yard.close()
    found = [
        c
        for e in evidence_of(load_trial(yard.bench.store, "peaks"))
        for c in e.result.comparisons
        if isinstance(c, Comparison)
    ]
    return lines_of(yard.bench.store, "peaks"), found


def half(found: list[Comparison]) -> float:
    (one,) = found
    return one.budget.expanded


def test_a_gauge_that_a_check_found_off_and_closed_nothing_widens_by_as_much(
    tmp_path: Path,
) -> None:
    _, steady = closed_by(tmp_path / "steady", ("0.00", "1.96"))
    _, passed = closed_by(tmp_path / "passed", ("0.05", "2.01"))
    said, undecided = closed_by(tmp_path / "undecided", ("0.10", "2.06"), ("0.00", "1.96"))
    assert half(steady) < half(passed) < half(undecided)
    (line,) = [x for x in said if x.startswith("Check 3 (undecided) read W200 off by")]
    assert line.endswith("like that of a passed check.")


def test_a_check_that_was_broken_off_behind_no_load_tells_how_far_the_gauge_had_moved(
    tmp_path: Path,
) -> None:
    _, steady = closed_by(tmp_path / "steady", ("0.00", "1.96"))
    _, passed = closed_by(tmp_path / "passed", ("0.05", "2.01"))
    said, broken_off = closed_by(tmp_path / "broken off", "0.05", ("0.00", "1.96"))
    assert half(broken_off) == pytest.approx(half(passed), rel=0.1)
    assert half(steady) < 0.9 * half(broken_off)
    assert any(x.startswith("Check 3 (broken off) read W0 off by +0.05") for x in said)
    notes = " ".join(t.note for c in broken_off for t in c.budget.terms)
    assert "Check 2 and check 3 (broken off, W0 alone) differ by" in notes
