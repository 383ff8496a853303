"""What a stream can have instead of a good pull: said by reading, and in no coefficient.

As `test_friction_stream`: simulated gauge, shipped driver and profile, real store.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest

from acquire.analysis.comparisons.comparison import Comparison, Refusal
from acquire.report import write_report
from acquire.report.evidence.evidence import Evidence, evidence_of
from acquire.report.evidence.pullrows import pull_records
from acquire.report.proof.proof import prove
from acquire.report.record.loading import load_trial
from acquire.report.terminal.summary import lines_of
from tests.flow.test_friction_stream import TRIAL, WEIGHT_N
from tests.streamed import StreamYard, drawn_pull

STATIC_N, KINETIC_N = 0.40 * WEIGHT_N, 0.30 * WEIGHT_N
GOOD = drawn_pull(STATIC_N, KINETIC_N)
Play = Callable[[StreamYard], None]


def _played(folder: Path, play: Play, text: str = TRIAL) -> Path:
    """One zone bare, by whatever `play` does after a second of rest."""
    yard = StreamYard(folder)
    yard.stream(1.0)
    yard.begin_slick("bare", text)
    play(yard)
    yard.close()
    return yard.bench.store


def _evidence(store: Path) -> tuple[Evidence, ...]:
    return evidence_of(load_trial(store, "sliding"))


def _lacking(store: Path) -> dict[int, str]:
    facts = _evidence(store)[0].friction
    assert facts is not None
    return dict(facts.lacking)


def test_a_knock_is_named_and_the_good_pulls_beside_it_count(tmp_path: Path) -> None:
    knock = [1.5] * 12 + [0.0] * 200

    def play(yard: StreamYard) -> None:
        yard.pull(GOOD)
        yard.pull(knock)
        yard.pull(GOOD)

    store = _played(tmp_path, play)
    assert list(_lacking(store)) == [2]
    assert "no pull (a knock)" in _lacking(store)[2]
    for one in _evidence(store):
        level = one.result.level("A", "bare")
        assert level is not None
        assert level.cell.n == 2
    said = "\n".join(lines_of(store, "sliding"))
    assert "Reading 2 is in no coefficient: what stands in the trace there is no pull" in said
    page = write_report(store, "sliding", tmp_path / "page.html").read_text(encoding="utf-8")
    assert "Reading 2: zone A, bare, no pull" in page
    proof = prove(store, 2)
    assert proof.holds
    assert any(line.startswith("it is in no coefficient:") for line in proof.lines)
    (own,) = [line for line in proof.lines if line.startswith("the bytes: ")]
    assert own.startswith("the bytes: none of its own, made of what had come up to ")
    rows = list(pull_records(load_trial(store, "sliding"), _evidence(store)))
    assert [r["result"] for r in rows] == ["pull", "no pull", "pull"]


def test_a_pull_at_the_end_of_the_range_has_no_peak_and_is_left_out(tmp_path: Path) -> None:
    def play(yard: StreamYard) -> None:
        yard.pull(GOOD)
        # The layout has two digits before the point: at 99.999 the number stands still.
        yard.pull([f * 80 for f in GOOD])

    lacking = _lacking(_played(tmp_path, play))
    assert list(lacking) == [2]
    assert "over the range" in lacking[2]


def test_two_pulls_without_slack_between_them_are_one_reading_and_said_so(tmp_path: Path) -> None:
    higher = drawn_pull(1.2 * STATIC_N, KINETIC_N)

    def play(yard: StreamYard) -> None:
        # Under 0.1 N for less than the 0.3 s after which the bench ends a pull.
        yard.pull([*GOOD, *[0.0] * 160, *higher])

    store = _played(tmp_path, play)
    rows = list(pull_records(load_trial(store, "sliding"), _evidence(store)))
    assert len(rows) == 1
    facts = _evidence(store)[0].friction
    assert facts is not None
    assert facts.pulls is not None
    found = facts.pulls.found[1]
    assert found.pull is not None
    assert found.pull.peak_n == pytest.approx(1.2 * STATIC_N, abs=0.02)
    assert "2 pulls stand behind this one reading" in found.remarks[0]


def test_a_sled_that_is_held_and_never_slides_is_no_pull(tmp_path: Path) -> None:
    held = [1.5 * min(1.0, i / 400) for i in range(1500)] + [0.0] * 100

    def play(yard: StreamYard) -> None:
        yard.pull(held)

    assert "no pull" in _lacking(_played(tmp_path, play))[1]


def test_a_later_stick_peak_is_the_reading_and_not_the_static_coefficient(tmp_path: Path) -> None:
    later = list(GOOD)
    at = 500 + 60 + 900
    for i in range(60):
        later[at + i] = KINETIC_N + (1.15 * STATIC_N - KINETIC_N) * (1 - abs(i - 30) / 30)

    def play(yard: StreamYard) -> None:
        yard.pull(later)

    store = _played(tmp_path, play)
    record = load_trial(store, "sliding")
    (reading,) = record.readings
    assert float(reading.value or 0) == pytest.approx(1.15 * STATIC_N, abs=0.02)
    level = _evidence(store)[0].result.level("A", "bare")
    assert level is not None
    assert level.cell.mean == pytest.approx(0.40, abs=0.003)


def test_one_pull_a_zone_gives_figures_and_no_decision(tmp_path: Path) -> None:
    yard = StreamYard(tmp_path)
    text = TRIAL.replace("replicates = 3", "replicates = 1")
    for stage in ("bare", "applied"):
        yard.begin_slick(stage, text)
        for _ in range(2):
            yard.pull(GOOD)
        yard.finish()
    yard.close()
    for one in _evidence(yard.bench.store):
        found = one.result.comparison("wax", "applied")
        assert isinstance(found, Refusal)
        assert "only one reading" in found.reason
        level = one.result.level("B", "applied")
        assert level is not None
        assert level.cell.mean is not None
        assert level.budget is None


def test_pulls_that_agree_to_the_last_step_are_judged_by_step_and_sled(tmp_path: Path) -> None:
    """A gauge without noise: what was sent repeats exactly, as long as pulls begin on a sample."""
    yard = StreamYard(tmp_path, noise_n=0.0)
    for stage in ("bare", "applied"):
        yard.begin_slick(stage, TRIAL)
        for _ in range(6):
            yard.pull(GOOD)
        yard.finish()
    yard.close()
    for one in _evidence(yard.bench.store):
        found = one.result.comparison("wax", "applied")
        if isinstance(found, Comparison):
            assert found.estimate == pytest.approx(0.0, abs=1e-3)
            assert found.budget.expanded > 0
        else:
            assert found is not None
            assert found.reason


def test_pulls_before_a_run_and_between_runs_belong_to_no_reading_of_it(tmp_path: Path) -> None:
    yard = StreamYard(tmp_path)
    yard.pull(drawn_pull(2 * STATIC_N, KINETIC_N))
    yard.begin_slick("bare", TRIAL)
    yard.pull(GOOD)
    yard.finish()
    yard.pull(drawn_pull(2 * STATIC_N, KINETIC_N))
    yard.begin_slick("applied", TRIAL)
    yard.pull(GOOD)
    yard.finish()
    yard.close()
    facts = _evidence(yard.bench.store)[0].friction
    assert facts is not None
    assert facts.pulls is not None
    assert facts.pulls.without_reading == 0
    assert sorted(facts.figures.values()) == pytest.approx([0.40, 0.40], abs=0.004)


def test_a_gap_in_the_stream_loses_its_pull_and_nothing_else(tmp_path: Path) -> None:
    """The plug was pulled and put back: another connection, another trace, the pulls in each."""
    yard = StreamYard(tmp_path)
    yard.begin_slick("bare", TRIAL)
    yard.pull(GOOD)
    yard.unplug("puller")
    yard.clock.advance(5)
    yard.plug_in()
    yard.pull(GOOD, rest_s=6.0)
    yard.close()
    record = load_trial(yard.bench.store, "sliding")
    assert len({t.connection_id for t in record.traces}) == 2
    facts = evidence_of(record)[0].friction
    assert facts is not None
    assert facts.lacking == {}
    assert len(facts.figures) == 2


def test_angles_and_a_window_are_taken_into_account(tmp_path: Path) -> None:
    sled = (
        'expanded_uncertainty = "0.4 g"\npull_angle_deg = 10\n'
        "[measure.sled.window]\nskip_mm = 0.6\nlength_mm = 2.4\nspeed_mm_per_s = 3"
    )

    def play(yard: StreamYard) -> None:
        yard.pull(GOOD)

    store = _played(tmp_path, play, TRIAL.replace('expanded_uncertainty = "0.4 g"', sled))
    static, kinetic = _evidence(store)
    # mu = F cos a / (W - F sin a), for F = 0.40 W and 0.30 W: by hand.
    for one, force in ((static, 0.40), (kinetic, 0.30)):
        level = one.result.level("A", "bare")
        assert level is not None
        by_hand = force * 0.984807753 / (1 - force * 0.173648178)
        assert level.cell.mean == pytest.approx(by_hand, abs=0.003)
    facts = kinetic.friction
    assert facts is not None
    assert facts.pulls is not None
    pull = facts.pulls.found[1].pull
    assert pull is not None
    assert pull.steady.end_s - pull.steady.start_s == pytest.approx(0.8, abs=0.01)


def test_the_zero_can_be_left_on(tmp_path: Path) -> None:
    def play(yard: StreamYard) -> None:
        yard.pull(GOOD, zero_n=0.05)

    text = TRIAL.replace("[measure.sled]", "[measure.sled]\ncorrections = []")
    with_zero = _evidence(_played(tmp_path, play, text))
    for one, truth in zip(with_zero, (0.40, 0.30), strict=True):
        level = one.result.level("A", "bare")
        assert level is not None
        assert level.cell.mean == pytest.approx(truth + 0.05 / WEIGHT_N, abs=0.002)
        assert any("gauge zero off" in rule for rule in one.result.rules)


def test_growth_with_dwell_is_found_where_it_is_and_told_in_words(tmp_path: Path) -> None:
    """Static friction made to grow by 0.05 a decade; the rests between pulls differ by twenty."""
    per_decade = 0.05
    rests = (1.5, 30.0, 4.0, 12.0, 1.5, 30.0)

    def play(yard: StreamYard) -> None:
        for rest in rests:
            # Behind a pull the line falls for 0.15 s and rests for a second; the rise takes 0.5 s.
            stood_s = 0.15 + 1.0 + rest + 0.5
            static = 0.35 + per_decade * math.log10(stood_s)
            yard.pull(drawn_pull(static * WEIGHT_N, 0.30 * WEIGHT_N), rest_s=rest)

    yard = StreamYard(tmp_path)
    yard.pull(GOOD)
    yard.begin_slick("bare", TRIAL.replace("replicates = 3", "replicates = 6"))
    play(yard)
    yard.close()
    facts = _evidence(yard.bench.store)[0].friction
    assert facts is not None
    assert facts.effects is not None
    growth = facts.effects.per_decade
    assert growth.is_shown
    assert growth.size == pytest.approx(per_decade, abs=0.006)
    assert facts.effects.count == 6
    said = "\n".join(lines_of(yard.bench.store, "sliding"))
    assert (
        "Dwell: the static coefficient grows with the logarithm of the time at rest: +0.0" in said
    )
