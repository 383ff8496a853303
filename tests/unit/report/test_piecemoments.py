"""A drift is counted from when each piece was read: a check takes a while, and may take long."""

from __future__ import annotations

from dataclasses import replace

import pytest

from acquire.analysis.checks.gaugezero import Zero
from acquire.analysis.checks.meterscale import Beside
from acquire.report.evidence.piecemoments import Moments, beside_at, moments_of, read_at_ns, zero_at
from acquire.report.record.loading import load_trial
from acquire.report.record.record import TrialRecord
from tests.unit.reported import small

S = 1_000_000_000


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory) -> TrialRecord:
    """Each check reads T1 at 1 and 2 s and Z0 at 3 and 4 s, when it is judged."""
    yard = small(tmp_path_factory.mktemp("moments"))
    store = yard.bench.store
    yard.close()
    return load_trial(store, "small")


def test_a_piece_was_read_at_the_mean_moment_of_its_readings(record: TrialRecord) -> None:
    first, second, _ = record.checks
    assert first.judged_utc_ns is not None
    assert read_at_ns(first, "T1", "20") == first.judged_utc_ns - 2.5 * S
    assert read_at_ns(first, "Z0", "20") == first.judged_utc_ns - 0.5 * S
    own = moments_of("T1", "20", first, second)
    assert own.opening_ns is not None
    assert own.closing_ns == own.opening_ns + 17 * S
    assert moments_of("T1", "20", first, None).closing_ns is None


def test_readings_without_a_value_and_void_ones_do_not_count(record: TrialRecord) -> None:
    check = record.checks[0]
    tile = [r for r in check.readings if r.piece == "T1"]
    void = replace(tile[0], void_reason="slipped")
    assert read_at_ns(replace(check, readings=(void, tile[1])), "T1", "20") == tile[1].at_utc_ns
    empty = replace(tile[1], value=None)
    assert read_at_ns(replace(check, readings=(void, empty)), "T1", "20") == check.judged_utc_ns
    # A clock that was set back before the judgement.
    late = replace(tile[0], at_utc_ns=tile[0].at_utc_ns + 3600 * S)
    assert read_at_ns(replace(check, readings=(late,)), "T1", "20") == check.judged_utc_ns


def test_what_other_pieces_were_off_by_is_brought_to_the_moments_of_the_reference_piece() -> None:
    """By hand: off by 0.2 at 10 s and 0.7 at 110 s, so by 0.3 at 30 s and 0.8 at 130 s."""
    own, reference = Moments(10 * S, 110 * S), Moments(30 * S, 130 * S)
    found = beside_at(Beside("Z0", 0.0, 0.2, 0.5, 0.01), own, reference)
    assert found.deviation == pytest.approx(0.3)
    assert found.drift == pytest.approx(0.5)
    zero = zero_at(Zero(0.2, 0.7, piece="W0"), own, reference)
    assert zero.opening == pytest.approx(0.3)
    assert zero.closing == pytest.approx(0.8)
    assert zero.piece == "W0"


@pytest.mark.parametrize(
    ("own", "reference"),
    [
        (Moments(10 * S, 110 * S), Moments(10 * S, 110 * S)),
        (Moments(10 * S, None), Moments(30 * S, 130 * S)),
        (Moments(10 * S, 110 * S), Moments(None, None)),
        (Moments(10 * S, 10 * S), Moments(30 * S, 130 * S)),
    ],
)
def test_where_moments_are_alike_or_not_known_all_stays(own: Moments, reference: Moments) -> None:
    beside = Beside("Z0", 0.0, 0.2, 0.5, 0.01)
    assert beside_at(beside, own, reference) == beside
    assert beside_at(beside._replace(drift=None), own, reference).deviation == 0.2
    zero = Zero(0.2, 0.7)
    assert zero_at(zero, own, reference) == zero
    assert zero_at(replace(zero, closing=None), own, reference).opening == 0.2
