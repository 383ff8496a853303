"""What a repeatability study says of simulated people and spots, and of data that say nothing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from acquire.analysis.laws.student import t_factor
from acquire.analysis.plans import planning
from acquire.analysis.studies.dependence import dependence_of
from acquire.analysis.studies.gauge import gauge_of
from acquire.analysis.studies.homogeneity import critical_share, odd_scatter
from acquire.analysis.studies.precision import precision_of
from acquire.analysis.studies.study import Study, StudyCell, study_of
from acquire.study.words import flag_lines, people_lines
from tests.unit.analysis.bench import has_nan

SIGMA = 0.2


def table(
    rng: np.random.Generator,
    *,
    people: int = 1,
    spots: int = 5,
    readings: int = 10,
    between: float = 0.0,
    rising: float = 0.0,
) -> list[StudyCell]:
    """Spots from 80 to 95 GU; each person reads off by a shift of their own."""
    shifts = between * rng.standard_normal(people)
    cells = []
    for k in range(spots):
        level = 80 + 15 * k / max(1, spots - 1)
        sd = SIGMA * math.exp(rising * (level - 87.5))
        for j in range(people):
            values = level + shifts[j] + sd * rng.standard_normal(readings)
            cells.append(StudyCell(f"spot-{k + 1}", f"p{j + 1}", tuple(values.tolist())))
    return cells


def draws(count: int, **how: float) -> list[Study]:
    rng = np.random.default_rng(5725)
    return [study_of(table(rng, **how)) for _ in range(count)]  # type: ignore[arg-type]


def test_the_interval_of_s_r_holds_the_true_scatter_in_95_of_100_studies() -> None:
    held = 0
    for study in draws(400):
        assert study.repeatability is not None
        assert study.repeatability.nu == 45
        low, high = study.repeatability.interval()
        held += low <= SIGMA <= high
    assert 0.92 <= held / 400 <= 0.98


def test_the_variance_between_people_is_found_without_bias_and_as_variance_analysis_has_it() -> (
    None
):
    found = [s.between for s in draws(300, people=6, between=0.3)]
    assert math.fsum((b or 0.0) ** 2 for b in found) / 300 == pytest.approx(0.09, rel=0.1)
    study = draws(1, people=4, between=0.5)[0]
    # The same table by two-way analysis of variance, no interaction pooled.
    gauge = gauge_of(
        [[c.values for c in study.cells if c.spot == s.name] for s in study.spots], 2.0
    )
    assert gauge is not None
    assert study.between is not None
    ms_people = gauge.ss_people / 3
    ms_interaction = gauge.ss_interaction / 12
    ms_repeat = gauge.ss_repeat / 180
    by_analysis = (ms_people - ms_interaction) / 50 + (ms_interaction - ms_repeat) / 10
    assert study.between**2 == pytest.approx(by_analysis)


def test_the_interval_of_s_r_with_six_people_holds_the_true_reproducibility() -> None:
    true = math.hypot(SIGMA, 0.3)
    held = 0
    for study in draws(300, people=6, between=0.3):
        assert study.reproducibility is not None
        held += study.reproducibility.low <= true <= study.reproducibility.high
    assert held / 300 >= 0.93


def test_two_people_say_little_of_how_people_differ_and_the_interval_says_so() -> None:
    study = draws(1, people=2, between=1.0)[0]
    assert study.reproducibility is not None
    assert study.reproducibility.nu == 1
    assert study.reproducibility.high > 10 * study.reproducibility.sd


def test_people_who_read_alike_have_no_variance_between_them_and_none_below_zero() -> None:
    cells = [StudyCell("a", p, (90.0, 90.2, 89.8)) for p in ("ines", "jonas")]
    study = study_of(cells)
    assert study.between == 0.0
    assert study.reproducibility is not None
    assert study.repeatability is not None
    assert study.reproducibility.sd == pytest.approx(study.repeatability.sd)


def test_a_restless_cell_and_a_slipped_reading_are_flagged_and_stay_in() -> None:
    cells = table(np.random.default_rng(1))
    restless = StudyCell("spot-6", "p1", tuple(88 + 6 * (v - 80) for v in cells[0].values))
    slipped = StudyCell("spot-7", "p1", (*cells[1].values[:-1], 81.0), tuple(range(101, 111)))
    study = study_of([*cells, restless, slipped])
    assert study.odd_cell is not None
    assert study.odd_cell[0] in (restless, slipped)
    assert [(o.reading, o.value) for o in study.odd_values] == [(110, 81.0)]
    assert study.repeatability is not None
    assert study.repeatability.nu == 7 * 9


def test_cells_alike_are_seldom_called_odd() -> None:
    flagged = sum(s.odd_cell is not None for s in draws(300))
    assert flagged / 300 <= 0.08


def test_a_scatter_that_rises_with_the_level_is_told_and_the_worse_end_is_lent() -> None:
    study = draws(1, rising=0.12, readings=20)[0]
    assert study.dependence is not None
    assert study.dependence.is_shown
    assert study.dependence.sd_high > 3 * study.dependence.sd_low
    assert study.usable is not None
    assert study.repeatability is not None
    assert study.usable.sd == study.dependence.sd_high > study.repeatability.sd


def test_a_scatter_that_does_not_rise_is_seldom_said_to() -> None:
    found = [s.dependence for s in draws(400)]
    shown = sum(d is not None and d.is_shown for d in found)
    assert shown / 400 <= 0.08


def test_people_who_differ_on_the_whole_are_told_apart_from_people_who_do_not() -> None:
    def differ(between: float) -> int:
        rng = np.random.default_rng(7)
        studies = [study_of(table(rng, people=2, between=between)) for _ in range(200)]
        tests = [s.gauge.p_people for s in studies if s.gauge is not None]
        assert len(tests) == 200
        return sum(p is not None and p <= 0.05 for p in tests)

    assert differ(0.0) <= 20
    assert differ(1.0) >= 150


@pytest.mark.parametrize(("people", "spots", "apart"), [(2, 3, 0.5), (2, 5, 0.3)])
def test_people_who_differ_by_the_spot_alone_are_said_to_differ_in_five_of_a_hundred(
    people: int, spots: int, apart: float
) -> None:
    """People do not differ on the whole; what sets them apart at a spot is drawn anew each time.

    3000 studies: three standard errors are 1.2 %.
    """
    rng = np.random.default_rng(11)
    found = []
    for _ in range(3000):
        off = rng.normal(0.0, apart, (spots, people, 1))
        gauge = gauge_of((off + rng.normal(0.0, 1.0, (spots, people, 10))).tolist())
        assert gauge is not None
        found.append(gauge.p_people)
    assert sum(p is not None and p <= 0.05 for p in found) / 3000 <= 0.062


DEGENERATE = {
    "nothing": [],
    "an empty cell": [StudyCell("a", "p", ())],
    "one reading": [StudyCell("a", "p", (90.0,))],
    "one reading a spot": [StudyCell(s, "p", (90.0,)) for s in "abc"],
    "all equal": [StudyCell(s, "p", (90.0,) * 5) for s in "abc"],
    "all equal but people": [
        StudyCell("a", "p", (90.0,) * 5),
        StudyCell("a", "q", (91.0,) * 5),
    ],
    "one digit flips": [
        StudyCell("a", "p", (90.0,) * 9 + (90.1,)),
        StudyCell("b", "p", (91.0,) * 10),
        StudyCell("c", "p", (92.0,) * 10),
    ],
    "one person left early": [
        StudyCell("a", "p", (90.0, 90.1)),
        StudyCell("b", "p", (91.0, 91.1, 91.2)),
        StudyCell("a", "q", (90.3,)),
    ],
}


@pytest.mark.parametrize("name", DEGENERATE)
@pytest.mark.parametrize("resolution", [0.0, 0.1])
def test_data_that_say_little_give_clear_answers_and_never_nan(
    name: str, resolution: float
) -> None:
    study = study_of(DEGENERATE[name], resolution)
    assert not has_nan(study)
    if name != "one digit flips" or resolution:
        assert study.odd_cell is None
        assert study.odd_values == ()
    if name in ("nothing", "an empty cell", "one reading", "one reading a spot"):
        assert study.repeatability is None
        assert study.usable is None


def test_readings_that_all_agree_are_lent_no_less_than_the_displays_step_scatters() -> None:
    study = study_of(DEGENERATE["all equal"], 0.1)
    assert study.hidden
    assert study.usable is not None
    assert study.usable.sd == pytest.approx(0.1 / math.sqrt(12))
    assert study_of(DEGENERATE["all equal"]).usable is None


def test_too_few_readings_are_told_and_lent_to_nobody() -> None:
    study = study_of([StudyCell("a", "p", (90.0, 90.2, 90.1))], 0.1)
    assert study.repeatability is not None
    assert study.usable is None


def test_a_level_far_from_zero_costs_no_digits() -> None:
    near = precision_of([[0.1, 0.2, 0.3], [0.4, 0.5, 0.7]])
    far = precision_of([[2.0**30 + 0.25, 2.0**30 + 0.5], [2.0**30 + 1, 2.0**30 + 2]])
    same = precision_of([[0.25, 0.5], [1.0, 2.0]])
    assert near.between is not None
    assert far.between_square == pytest.approx(same.between_square, rel=1e-9)


def test_cochran_with_unequal_cells_keeps_its_error() -> None:
    rng = np.random.default_rng(3)
    counts = (3, 5, 10, 10, 4)
    flagged = 0
    for _ in range(2000):
        sds = [float(rng.standard_normal(n).std(ddof=1)) for n in counts]
        found = odd_scatter(sds, [n - 1 for n in counts])
        flagged += found is not None and found.is_straggler
    assert 0.03 <= flagged / 2000 <= 0.06


def test_tests_of_one_cell_or_without_scatter_are_not_made() -> None:
    assert odd_scatter([0.1], [4]) is None
    assert odd_scatter([0.0, 0.0], [4, 4]) is None
    assert dependence_of([90, 80], [0.1, 0.2], [9, 9]) is None
    assert dependence_of([90, 90, 90], [0.1, 0.2, 0.3], [9, 9, 9]) is None
    with pytest.raises(ValueError, match="at least 2 cells"):
        critical_share([4], 0)
    assert gauge_of([]) is None
    assert gauge_of([[(1.0, 2.0), (1.0,)], [(1.0, 2.0), (2.0, 3.0)]]) is None


def test_as_many_readings_as_planned_show_the_difference_in_80_of_100_trials() -> None:
    n = planning.readings_for(SIGMA, 0.3)
    assert n is not None
    rng = np.random.default_rng(11)
    shown = 0
    for _ in range(4000):
        cells = SIGMA * rng.standard_normal((4, n))
        cells[0] += 0.3
        means, variances = cells.mean(axis=1), cells.var(axis=1, ddof=1)
        net = means[0] - means[1] - means[2] + means[3]
        # The limit of results: the least known of the four means with its t, the rest with z.
        z, t = t_factor(math.inf), t_factor(n - 1)
        square = z * z * variances.sum() + (t * t - z * z) * variances.max()
        shown += abs(net) > math.sqrt(float(square) / n)
    # The number is whole and the next one up, so a little more than promised.
    assert 0.79 < shown / 4000 < 0.85
    several = planning.readings_for(SIGMA, 0.3, treatments=6)
    assert several is not None
    assert several > n
    assert planning.net_change_seen(0.0, 3) == 0.0
    assert planning.readings_for(SIGMA, 50.0) == 2
    assert planning.readings_for(SIGMA, 1e-6) is None
    assert planning.net_change_seen(SIGMA, 1) is None
    with pytest.raises(ValueError, match="above zero"):
        planning.readings_for(SIGMA, 0.0)


UNEVEN = [
    StudyCell("a", "ines", (80.1, 80.3, 80.2)),
    StudyCell("a", "jonas", (80.9, 81.1)),
    StudyCell("b", "ines", (85.0, 85.1, 85.3)),
    StudyCell("b", "jonas", (85.8, 86.1, 85.7)),
    StudyCell("c", "ines", (90.2, 90.0, 90.1)),
    StudyCell("c", "jonas", (90.7, 90.9, 91.1)),
]
"""Two people of whom one reads off by about 0.75; a void has made it uneven."""


def test_people_of_an_uneven_study_are_held_against_each_other_by_their_means() -> None:
    study = study_of(UNEVEN, 0.1)
    assert study.gauge is None
    means = [[math.fsum(c.values) / len(c.values) for c in UNEVEN[k::2]] for k in (0, 1)]
    wanted = stats.ttest_rel(*means).pvalue
    assert study.p_means == pytest.approx(wanted, rel=1e-9)
    assert wanted < 0.05


def test_of_an_even_study_the_means_say_what_all_readings_say_where_spots_matter() -> None:
    study = draws(1, people=3, between=0.3)[0]
    assert study.gauge is not None
    ms_people = study.gauge.ss_people / (len(study.people) - 1)
    df = (len(study.people) - 1) * (len(study.spots) - 1)
    f = ms_people / (study.gauge.ss_interaction / df)
    wanted = stats.f.sf(f, len(study.people) - 1, df)
    assert study.p_means == pytest.approx(wanted, rel=1e-6)


def test_a_spot_that_one_of_them_did_not_read_is_left_out_and_one_spot_tells_nothing() -> None:
    assert study_of([*UNEVEN, StudyCell("d", "ines", (70.0, 70.2))]).p_means == pytest.approx(
        study_of(UNEVEN).p_means or 0.0
    )
    assert study_of(UNEVEN[:2]).p_means is None
    assert study_of(UNEVEN[::2]).p_means is None
    even = [StudyCell(s, p, (v, v)) for s, v in (("a", 80.0), ("b", 85.0)) for p in ("p", "q")]
    assert study_of(even).p_means is None


def test_a_straggler_is_not_told_by_a_limit_that_it_keeps() -> None:
    told = [
        next(line for line in flag_lines(study, " GU") if "Cochran" in line)
        for study in draws(300)
        if study.odd_cell is not None and not study.odd_cell[1].is_outlier
    ]
    assert told
    for line in told:
        assert " straggles (Cochran C = 0." in line
        assert ", beyond the limit at 5 % and within that of 0." in line


def test_the_sentence_on_people_stands_whatever_a_void_has_made_of_the_study() -> None:
    (told,) = [
        line for line in people_lines(study_of(UNEVEN, 0.1), " GU") if "on the whole" in line
    ]
    assert told.startswith("  people DIFFER on the whole (p = 0.0")
    assert "by the means of each spot, since not all were read alike)" in told
    (told,) = [line for line in people_lines(study_of(UNEVEN[:2]), " GU") if "on the whole" in line]
    assert "cannot be told: it takes two spots or more that everybody read" in told
    assert list(people_lines(study_of(UNEVEN[::2]), " GU")) == []
    even = draws(1, people=2, between=1.0)[0]
    (told,) = [line for line in people_lines(even, " GU") if "on the whole" in line]
    assert "by the means" not in told


@pytest.mark.parametrize("people", [2, 3, 6])
@pytest.mark.parametrize("between", [0.0, 1.0, 3.0])
def test_two_other_people_differ_by_more_than_the_limit_as_often_as_is_said(
    people: int, between: float
) -> None:
    """Not in 5 of 100 cases, as with a scatter that is known: s_R of few people is mostly not."""
    truly, said = [], []
    for study in draws(150, people=people, between=between * SIGMA):
        found = study.reproducibility
        assert found is not None
        (line,) = [x for x in people_lines(study, " GU") if x.startswith("  R ")]
        said.append(float(line.split(" in about ")[1].split(" of 100")[0]))
        # Both readings have the scatter of people and that of readings.
        sd = math.sqrt(2) * SIGMA * math.hypot(between, 1.0)
        truly.append(100 * 2 * stats.norm.sf(2.8 * found.sd / sd))
    # Studies that find much more between people than there is make the law of means a bit wider.
    assert -2 < float(np.mean(said)) - float(np.mean(truly)) < 4.5


def test_three_people_are_said_to_tell_little_and_four_are_not() -> None:
    for people, there in ((2, True), (3, True), (4, False)):
        (study,) = draws(1, people=people, between=1.0)
        told = "\n".join(people_lines(study, " GU"))
        assert ("say little of how people differ" in told) is there
