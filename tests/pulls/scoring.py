"""What was found in a trace held against its truth."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field

from acquire.analysis.slickness.pull import Pull, Segmented
from acquire.analysis.slickness.rules import Rules
from acquire.analysis.slickness.segment import segment
from tests.pulls.traces import TruePull, TrueTrace, drawn

WITHIN = 0.005


@dataclass
class Score:
    """Counts over many traces. A pull that the range cut off wants to be rejected, not found.

    One whose peak a knock fell on may be either; those of them with another peak are counted, and
    those of these with a remark on it.
    `struck` are those with a knock on the slide, `struck_told` of them with a remark on it.
    """

    traces: int = 0
    pulls: int = 0
    found: int = 0
    near_sampled: int = 0
    near_true: int = 0
    invented: int = 0
    cut_off: int = 0
    cut_off_taken: int = 0
    hidden: int = 0
    hidden_taken: int = 0
    hidden_wrong: int = 0
    hidden_told: int = 0
    struck: int = 0
    struck_told: int = 0
    faults: list[str] = field(default_factory=list)
    reasons: Counter[str] = field(default_factory=Counter)
    kinetic: list[float] = field(default_factory=list)
    kinetic_struck: list[float] = field(default_factory=list)
    dwell: list[float] = field(default_factory=list)
    peaks: list[float] = field(default_factory=list)
    true: list[tuple[float, float]] = field(default_factory=list)
    normal: list[float] = field(default_factory=list)

    def add(self, true: TrueTrace, got: Segmented) -> None:
        self.traces += 1
        self.reasons.update(r.why.value for r in got.rejected)
        left = list(got.pulls)
        for pull in true.pulls:
            match = next((p for p in left if pull.onset_s - 0.3 <= p.peak_s <= pull.end_s), None)
            if match is not None:
                left.remove(match)
            if not pull.whole:
                self.cut_off += 1
                self.cut_off_taken += match is not None
                continue
            if pull.hidden:
                self.hidden += 1
                if match is not None:
                    self.hidden_taken += 1
                    if abs(_at_sample(match) / pull.sampled_n - 1) > WITHIN:
                        self.hidden_wrong += 1
                        self.hidden_told += any("near its first peak" in r for r in match.remarks)
                continue
            self.pulls += 1
            if match is None:
                why = next(
                    (
                        r.because
                        for r in got.rejected
                        if r.start_s < pull.end_s and r.end_s > pull.onset_s
                    ),
                    got.refusal or "no candidate",
                )
                self._fault(true, f"lost the pull at {pull.peak_s:.2f} s: {why}")
                continue
            self._hold(true, pull, match)
        for extra in left:
            self.invented += 1
            near = [w for w, a, b in true.others if a - 0.5 < extra.peak_s < b + 0.5]
            self._fault(true, f"invented a pull at {extra.peak_s:.2f} s ({near})")

    def _hold(self, true: TrueTrace, pull: TruePull, got: Pull) -> None:
        self.found += 1
        off = _at_sample(got) / pull.sampled_n - 1
        self.near_sampled += abs(off) <= WITHIN
        self.near_true += abs(got.peak_n / pull.peak_n - 1) <= WITHIN
        self.true.append((pull.rise_n / pull.peak_n, got.peak_n / pull.peak_n - 1))
        if abs(off) > WITHIN:
            self._fault(
                true,
                f"the peak at {pull.peak_s:.2f} s is {_at_sample(got):.4f} N at "
                f"{got.peak_s:.2f} s, not {pull.sampled_n:.4f} N ({100 * off:+.2f} %)",
            )
        self.peaks.append(off)
        if any(at_s < got.slid_until_s for at_s, _ in pull.struck):
            self.struck += 1
            self.struck_told += any("left out" in r or "rose faster" in r for r in got.remarks)
            self.kinetic_struck.append(got.steady.mean_n / pull.kinetic_n - 1)
        self.normal.append(
            (got.peak_n - pull.peak_n) / math.hypot(got.u_peak_n, got.u_zero_n, 1e-9)
        )
        self.kinetic.append(got.steady.mean_n / pull.kinetic_n - 1)
        if got.dwell_s is not None and pull.dwell_s is not None:
            self.dwell.append(got.dwell_s - pull.dwell_s)

    def by_rise(self, low: float, high: float) -> tuple[int, int, float]:
        """Of the pulls whose force gained so large a share of the peak from one sample to the next:
        how many, how many within 0.5 % of the true peak, and the mean share that all are off."""
        here = [off for rise, off in self.true if low <= max(0.0, rise) < high]
        near = sum(abs(off) <= WITHIN for off in here)
        return len(here), near, sum(here) / max(1, len(here))

    def _fault(self, true: TrueTrace, text: str) -> None:
        self.faults.append(f"seed {true.seed}, {true.rate_hz:.0f} Hz: {text}")


def _at_sample(got: Pull) -> float:
    """What is found of the largest force at a sample: the peak less what lies above all of them."""
    return got.peak_n - (got.between_n or 0.0)


def scored(seeds: range) -> Score:
    """All traces of these seeds."""
    score = Score()
    for seed in seeds:
        true = drawn(seed)
        rules = Rules.for_weight(true.weight_n, range_n=true.range_n)
        score.add(true, segment(true.force_n, true.rate_hz, rules))
    return score
