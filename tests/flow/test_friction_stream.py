"""From the bytes of a gauge that streams to coefficients of friction with known truth.

Simulated gauge, shipped driver and profile, real store, results: no part is left out.
"""

from __future__ import annotations

import math
import re
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.treatments.decision import Decision
from acquire.report import write_report
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.proof.proof import prove
from acquire.report.proof.pullproof import NOT_PROVED, PROVED
from acquire.report.record.loading import load_trial
from acquire.report.rows.export import Scope, records
from acquire.report.rows.resultrows import result_records
from acquire.report.terminal.resultlines import check_budgets
from acquire.report.terminal.summary import lines_of
from acquire.store.reader import StoreReader
from tests.streamed import PULLED, StreamYard, drawn_pull

MASS_KG = 0.5124
WEIGHT_N = MASS_KG * 9.80665
TRIAL = (
    """
[trial]
id = "sliding"
title = "One wax on gelcoat, pulled"
stages = ["bare", "applied"]
unchecked = true

"""
    + PULLED
    + """
[measure.sled]
mass = "512.4 g"
expanded_uncertainty = "0.4 g"
"""
)
STATIC = {("A", "bare"): 0.40, ("B", "bare"): 0.41, ("A", "applied"): 0.40, ("B", "applied"): 0.18}
KINETIC = {("A", "bare"): 0.30, ("B", "bare"): 0.31, ("A", "applied"): 0.30, ("B", "applied"): 0.12}
OFF = (-0.004, 0.0, 0.004)
"""What the three pulls of a zone lie apart by, so that their mean is the truth and s is known."""
ZERO_N = 0.035


def played(folder: Path) -> StreamYard:
    """The whole trial, with a zero of the gauge that nobody set."""
    yard = StreamYard(folder)
    for stage in ("bare", "applied"):
        yard.stream(1.0, ZERO_N)
        yard.begin_slick(stage, TRIAL)
        for zone in ("A", "B"):
            for off in OFF:
                yard.pull(
                    drawn_pull(
                        (STATIC[zone, stage] + off) * WEIGHT_N,
                        (KINETIC[zone, stage] + off) * WEIGHT_N,
                        slip_n=0.05,
                    ),
                    zero_n=ZERO_N,
                )
        yard.finish()
    return yard


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    yard = played(tmp_path_factory.mktemp("sliding"))
    yard.close()
    return yard.bench.store


@pytest.fixture(scope="module")
def evidence(store: Path) -> tuple[Evidence, ...]:
    return evidence_of(load_trial(store, "sliding"))


def test_a_pull_out_of_a_stream_gives_both_coefficients(evidence: tuple[Evidence, ...]) -> None:
    assert [e.what for e in evidence] == [
        "Static coefficient of friction",
        "Kinetic coefficient of friction",
    ]
    for one, truth in zip(evidence, (STATIC, KINETIC), strict=True):
        for (zone, stage), mu in truth.items():
            level = one.result.level(zone, stage)
            assert level is not None
            assert level.cell.n == 3
            assert level.cell.mean == pytest.approx(mu, abs=0.001)
            assert level.cell.summary.sd == pytest.approx(0.004, abs=0.0006)


def test_decision_and_budget_are_those_of_the_known_truth(evidence: tuple[Evidence, ...]) -> None:
    for one, net in zip(evidence, (-0.23, -0.19), strict=True):
        found = one.result.comparison("wax", "applied")
        assert isinstance(found, Comparison)
        assert found.decision is Decision.BETTER
        assert found.estimate == pytest.approx(net, abs=0.002)
        scatter = math.hypot(*[0.004 / math.sqrt(3)] * 4)
        assert found.budget.combined == pytest.approx(scatter, rel=0.15)
        (mass,) = [t for t in found.budget.terms if t.name == "mass of the sled"]
        assert mass.u == pytest.approx(0.0002 / MASS_KG)
        assert mass.contribution == pytest.approx(0.0002 / MASS_KG * abs(net), rel=0.02)


def test_every_reading_has_its_pull_with_stick_slip_dwell_and_place(
    evidence: tuple[Evidence, ...],
) -> None:
    facts = evidence[1].friction
    assert facts is not None
    assert facts.pulls is not None
    assert facts.lacking == {}
    assert facts.pulls.unused == ()
    pulls = list(facts.pulls.found.values())
    assert len(pulls) == 12
    for found in pulls:
        assert found.pull is not None
        assert found.pull.zero_n == pytest.approx(ZERO_N, abs=0.002)
        # A swing of 0.05 N to each side, and the noise of single samples on top of both.
        assert found.pull.steady.peak_to_peak_n == pytest.approx(0.10, abs=0.02)
        assert found.sample_at(found.pull.peak_s) < found.end
    dwells = [f.pull.dwell_s for f in pulls if f.pull is not None]
    # One second of rest and a half behind each pull, and the rest of its own before the next.
    assert all(d == pytest.approx(2.5, abs=0.3) for d in dwells[1:6] if d is not None)


def test_the_page_shows_sled_corrections_traces_and_every_pull(store: Path, tmp_path: Path) -> None:
    page = write_report(store, "sliding", tmp_path / "page.html").read_text(encoding="utf-8")
    part = page[page.index('id="pulls"') :].replace("\u00a0", " ")
    assert "The sled weighs 512.4 g with a standard uncertainty of 0.2 g" in part
    assert "Corrections: gauge zero on" in part
    assert "angle of the line above the panel off (not given, taken as 0)" in part
    assert part.count("first peak</text>") >= 3
    assert "ASTM D2534" in page
    assert page.count("<svg") > 4


def test_rows_lead_from_a_kinetic_mean_to_numbered_samples(store: Path) -> None:
    record = load_trial(store, "sliding")
    rows = [r for r in result_records(record) if r["result"] == "pull"]
    assert len(rows) == 12
    row = rows[-1]
    with StoreReader(store) as reader:
        blocks = reader.rows(
            "SELECT * FROM trace_block WHERE trace_id = ? ORDER BY first", (row["trace_id"],)
        )
        (trace,) = reader.rows("SELECT * FROM trace WHERE id = ?", (row["trace_id"],))
    counts = np.concatenate(
        [np.frombuffer(b["counts"], {1: "<i1", 2: "<i2", 4: "<i4"}[b["width"]]) for b in blocks]
    )
    first, last = (
        int(str(row[name])) - blocks[0]["first"]
        for name in ("steady_first_sample", "steady_last_sample")
    )
    mean = counts[first : last + 1].mean() * float(trace["step"])
    # The zero wanders a little from the first peak to the window; it is taken off along the way.
    above = mean - float(str(row["zero_n"]))
    assert above == pytest.approx(float(str(row["kinetic_n"])), abs=1e-4)
    assert float(str(row["kinetic_n"])) / WEIGHT_N == pytest.approx(float(str(row["kinetic"])))
    holding = {b["id"] for b in blocks if row["first_block"] <= b["id"] <= row["last_block"]}
    assert {row["first_block"], row["last_block"]} <= holding
    kinds = {r["coefficient"] for r in result_records(record) if r["result"] == "control"}
    assert kinds == {"static", "kinetic"}


def test_the_budgets_hold_and_the_summary_has_both(store: Path) -> None:
    assert check_budgets(store, "sliding").holds
    said = "\n".join(lines_of(store, "sliding"))
    assert "Kinetic coefficient of friction (measure slick)" in said
    assert "Dwell:" in said
    assert "First pull:" in said


def test_the_proof_of_a_pull_names_samples_rows_and_bytes_and_plays_them_again(
    store: Path, tmp_path: Path
) -> None:
    proof = prove(store, 10)
    said = "\n".join(proof.lines)
    assert proof.holds
    assert re.search(r"its pull: samples \d+ to \d+ of trace 1 \(1000 a second", said)
    found = re.search(r"steady window: samples (\d+) to (\d+), mean ([\d.]+) N above zero", said)
    assert found is not None
    assert float(found[3]) == pytest.approx(0.116 * WEIGHT_N, abs=0.005)
    assert "kinetic 0.11" in said
    assert PROVED in said
    assert re.search(r"the bytes: made of the samples in (\d+) to (\d+) of what came over ", said)
    assert "b''" not in said
    # A sample that was changed in a copy of the store is not the one that came down the line.
    copy = tmp_path / "copy.db"
    shutil.copy(store, copy)
    with closing(sqlite3.connect(copy)) as other:
        other.execute("DROP TRIGGER trace_block_no_update")
        (number, counts) = other.execute(
            "SELECT id, counts FROM trace_block WHERE first <= ?1 AND ?1 < first + "
            "length(counts) / width", (int(found[1]),)
        ).fetchone()  # fmt: skip
        changed = bytes([counts[0] ^ 1]) + counts[1:]
        other.execute("UPDATE trace_block SET counts = ? WHERE id = ?", (changed, number))
        other.commit()
    assert not prove(copy, 10).holds
    assert NOT_PROVED in "\n".join(prove(copy, 10).lines)


def test_an_export_has_both_coefficients_beside_each_reading(store: Path) -> None:
    with StoreReader(store) as reader:
        rows = list(records(reader, Scope("sliding")))
    assert [r["no_coefficient"] for r in rows] == [None] * 12
    for r in rows:
        place = (str(r["zone"]), str(r["stage"]))
        assert float(str(r["static_coefficient"])) == pytest.approx(STATIC[place], abs=0.006)
        assert float(str(r["kinetic_coefficient"])) == pytest.approx(KINETIC[place], abs=0.006)
        # What the gauge itself called the peak has its zero in it.
        assert float(str(r["value"])) > float(str(r["static_coefficient"])) * WEIGHT_N + 0.02
