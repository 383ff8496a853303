"""Checks and the gate: pure functions that decide whether a reading may count."""

from acquire.calibration.gate import Request, gate
from acquire.calibration.judge import judge

__all__ = ["Request", "gate", "judge"]
