"""Notices of a status that readings have become suspect, by a check or because a meter was
re-adjusted without a check as found. Pure; the screen's thread.

The daemon says which; what a board has told, or has recalled as past, is told once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from acquire.live.words import clean, times
from acquire.report.words.wording import limits_words


class Suspects:
    """Fed with statuses; says when readings have become suspect, and by what."""

    def __init__(self) -> None:
        self._known: tuple[int, int] | None = None

    def know(self, check_id: int, adjusted_id: int) -> None:
        """What checks and notices up to these made suspect is past, and told where it is to be."""
        check, adjusted = self._known or (0, 0)
        self._known = max(check_id, check), max(adjusted_id, adjusted)

    def stand(self, status: Mapping[str, Any]) -> tuple[str, str] | None:
        """A status; gives instrument and sentence where readings have become suspect."""
        found = status["suspects"]
        before = self._known
        self.know(
            *((0, 0) if found is None else (found["check_id"] or 0, found["adjusted_id"] or 0))
        )
        if found is None or before is None or before == self._known:
            return None
        return found["instrument"], words_of(found)


def words_of(found: Mapping[str, Any]) -> str:
    """What is suspect of late, as the status has it."""
    return suspect_words(
        found["check_id"], found["runs"], found["instrument"], found.get("limits_of")
    )


def suspect_words(
    check_id: int | None,
    runs: Sequence[Mapping[str, Any]],
    instrument: str,
    limits_of: int | None,
) -> str:
    """Which readings a check made suspect, whatever it came to, and what comes of that.

    Without a check a re-adjustment of `instrument` did, which no check as found came before.
    `limits_of` is the earlier check that the limits are of, where by its own it did not fail.
    """
    told = [
        f"{times(run['readings'], 'reading')} of run {run['run_id']} ({clean(run['trial'])}, "
        f"{clean(run['stage'])})"
        for run in runs
    ]
    verb = "is" if len(runs) == 1 and runs[0]["readings"] == 1 else "are"
    them = "it" if verb == "is" else "them"
    trials = dict.fromkeys(clean(run["trial"]) for run in runs)
    shown = " and ".join(f"coatbench report {trial}" for trial in trials)
    why = (
        f"{clean(instrument)} was re-adjusted with no check as found before, so that nobody knows "
        "how it read until then"
        if check_id is None
        else f"check {check_id} found the meter outside {limits_words(limits_of)}"
    )
    return (
        f"{why}: {' and '.join(told)} {verb} suspect and count{'s' if verb == 'is' else ''} no "
        f"more; the places are open again, and results are reckoned without {them} from now on "
        f"({shown})"
    )
