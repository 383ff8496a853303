"""Which readings the latest check or re-adjustment made suspect. Runs on the desk's thread.

The store derives it (the view `brackets`), which takes a moment in a store of years; so it is asked
once a judgement or notice and not at every status.
"""

from __future__ import annotations

from acquire.pipeline.desk import Desk
from acquire.store import rows as r
from acquire.store.check_rows import CheckJudgementRow


class LatestSuspects:
    """What a re-adjustment, or the check that was judged last, made suspect; maybe nothing."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._asked = (-1, -1)
        self._found: dict[str, object] | None = None

    def told(self) -> dict[str, object] | None:
        """Check or notice, instrument, and by run the number of readings; None without any."""
        latest = self._desk.ids.last(CheckJudgementRow), self._desk.ids.last(r.NoticeRow)
        if latest != self._asked:
            self._asked = latest
            runs = self._desk.shelf.suspects()
            self._found = None
            if runs:
                self._found = {
                    "check_id": runs[0].check_id,
                    "adjusted_id": None if runs[0].check_id else self._desk.shelf.adjusted_last(),
                    "instrument": runs[0].instrument,
                    "limits_of": runs[0].limits_of,
                    "runs": [
                        {
                            "run_id": run.run_id,
                            "trial": run.trial,
                            "stage": run.stage,
                            "readings": run.readings,
                        }
                        for run in runs
                    ],
                }
        return self._found
