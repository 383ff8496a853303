"""Checks and the gate: pure functions that decide whether a reading may count."""

from acquire.calibration.gate import Request, gate
from acquire.calibration.judge import found_outside, judge, judge_broken_off, judge_so_far

__all__ = ["Request", "found_outside", "gate", "judge", "judge_broken_off", "judge_so_far"]
