"""Notices of a status that a check has made readings suspect. Pure; the screen's thread.

The daemon says which; what a board has told, or has recalled as past, is told once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from acquire.live.words import clean, times


class Suspects:
    """Fed with statuses; says when readings have become suspect, and by which check."""

    def __init__(self) -> None:
        self._known: int | None = None

    def know(self, check_id: int) -> None:
        """What checks up to this one made suspect is past, and told already where it is to be."""
        self._known = max(check_id, self._known or 0)

    def stand(self, status: Mapping[str, Any]) -> tuple[str, str] | None:
        """A status; gives instrument and sentence where readings have become suspect."""
        found = status["suspects"]
        before = self._known
        if found is not None and found["check_id"] > (before or 0):
            self.know(found["check_id"])
            if before is not None:
                return found["instrument"], suspect_words(found["check_id"], found["runs"])
        elif before is None:
            self.know(0)
        return None


def suspect_words(check_id: int, runs: Sequence[Mapping[str, Any]]) -> str:
    """Which readings a check made suspect, whatever it came to, and what comes of that."""
    told = [
        f"{times(run['readings'], 'reading')} of run {run['run_id']} ({clean(run['trial'])}, "
        f"{clean(run['stage'])})"
        for run in runs
    ]
    verb = "is" if len(runs) == 1 and runs[0]["readings"] == 1 else "are"
    them = "it" if verb == "is" else "them"
    trials = dict.fromkeys(clean(run["trial"]) for run in runs)
    shown = " and ".join(f"coatbench report {trial}" for trial in trials)
    return (
        f"check {check_id} found the meter outside its limit: {' and '.join(told)} {verb} suspect "
        f"and count{'s' if verb == 'is' else ''} no more; the places are open again, and results "
        f"are reckoned without {them} from now on ({shown})"
    )
