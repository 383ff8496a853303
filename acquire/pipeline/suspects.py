"""Which readings the latest check made suspect. Runs on the desk's thread; changes nothing.

The store derives it (the view `brackets`), which takes a moment in a store of years; so it is asked
once a judgement and not at every status.
"""

from __future__ import annotations

from acquire.pipeline.desk import Desk
from acquire.store import rows as r


class LatestSuspects:
    """What the check that was judged last made suspect; nothing where it found none so."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._judgement = -1
        self._found: dict[str, object] | None = None

    def told(self) -> dict[str, object] | None:
        """Check, instrument, and by run the number of readings; None where there are none."""
        judgement = self._desk.ids.last(r.CheckJudgementRow)
        if judgement != self._judgement:
            self._judgement = judgement
            runs = self._desk.shelf.suspects()
            self._found = None
            if runs:
                self._found = {
                    "check_id": runs[0].check_id,
                    "instrument": runs[0].instrument,
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
