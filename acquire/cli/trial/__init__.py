"""`coatbench trial`: a trial from its plan to its end."""

from acquire.cli.trial.checking import plan_lines
from acquire.cli.trial.group import trial

__all__ = ["plan_lines", "trial"]
