"""What the terminal of `coatbench serve` is told: a dated line for what changes at the bench. Pure.

Instruments that come and go, troubles, checks that are judged or end, runs that begin, wait, go on
and end. Readings and noise are left to `coatbench watch`: a terminal that nobody reads must not
fill up with them.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, tzinfo
from typing import Any

from acquire.live.story import Story
from acquire.live.tone import Tone
from acquire.live.words import clean, resume_step
from acquire.model import from_utc_ns

TABLES = frozenset(
    {"connection", "disconnection", "incident", "gap", "notice", "check_begin"}
    | {"check_judgement", "pass_end", "run", "run_end"}
)
"""Tables whose rows change how the bench stands."""

_NOT_YET = "not connected yet"


class Bulletin:
    """Fed with rows and statuses; gives the lines that are new. Times are of `zone`."""

    def __init__(self, zone: tzinfo | None = None) -> None:
        self._zone = zone
        self._story = Story(zone=zone)
        self._said: dict[str, str] = {}
        """The last word on the link of each instrument, so that none is said twice."""
        self._clock = ""
        self._has_stood = False
        self._waiting = ""

    def fold(self, item: Mapping[str, Any]) -> list[str]:
        """A stored row."""
        table = str(item.get("table"))
        if table not in TABLES:
            return []
        if item.get("message"):
            item = {**item, "message": _head(item["message"])}
        happening = self._story.fold(item)
        if happening is None or not self._is_news(table, item, happening.who, happening.text):
            return []
        at_ns = item["until_utc_ns"] if table == "gap" else item["at_utc_ns"]
        day = from_utc_ns(at_ns).astimezone(self._zone)
        return [f"{day:%Y-%m-%d} {happening}"]

    def _is_news(self, table: str, item: Mapping[str, Any], who: str, text: str) -> bool:
        if table == "notice":
            return item["kind"] not in ("identity", "typed once", "lapsed")
        if table == "check_begin":
            return False
        if table == "pass_end":
            return bool(item["reason"] != "superseded")
        if table in ("connection", "disconnection", "incident"):
            words = text.removeprefix("disconnected: ")
            if not who and words in self._said.values():
                # Of a connection that was there before anybody watched: its trouble was told.
                return False
            before = self._said.get(who)
            self._said[who] = words
            return before != words
        return True

    def stand(self, status: Mapping[str, Any]) -> list[str]:
        """A status: at first what is there, then whether a run waits or goes on."""
        lines = [] if self._has_stood else [*self._links(status), *self._limits(status)]
        self._has_stood = True
        clock = clean(status.get("clock") or "")
        if clock and not self._clock:
            lines.append(self._line(status, Tone.TROUBLE, "clock", clock))
        self._clock = clock
        run, waiting = status["run"], _waiting(status)
        if waiting and waiting != self._waiting:
            instrument = (run or status["interrupted"])["instrument"]
            lines.append(self._line(status, Tone.TROUBLE, instrument, waiting))
        elif self._waiting and not waiting and run is not None:
            lines.append(self._line(status, Tone.PLAIN, run["instrument"], f"{_name(run)} goes on"))
        self._waiting = waiting
        return lines

    def _links(self, status: Mapping[str, Any]) -> list[str]:
        lines = []
        for own in (*status["instruments"], *status.get("probes", ())):
            name, message = own["id"], clean(_head(own["message"]))
            shared = clean(own.get("shared") or "")
            words = {message.removeprefix(f"{name}: "), *filter(None, [shared])}
            if self._said.get(name) in words:
                continue
            if own["connected"]:
                lines.append(self._line(status, Tone.PLAIN, name, message))
            elif message != _NOT_YET:
                lines.append(self._line(status, Tone.TROUBLE, name, f"NOT THERE: {message}"))
            self._said[name] = message.removeprefix(f"{name}: ")
            if shared:
                lines.append(self._line(status, Tone.TROUBLE, name, shared))
                self._said[name] = shared
        return lines

    def _limits(self, status: Mapping[str, Any]) -> list[str]:
        """Limits that are others than at the last check: who starts the daemon is to know."""
        return [
            self._line(status, Tone.TROUBLE, own["id"], f"LIMIT CHANGED: {text}")
            for own in status["instruments"]
            for text in own.get("limits_changed", ())
        ]

    def _line(self, status: Mapping[str, Any], tone: Tone, who: str, text: str) -> str:
        at = datetime.fromisoformat(status["at"]).astimezone(self._zone)
        return f"{at:%Y-%m-%d %H:%M:%S} {tone.mark} {clean(who)}: {clean(text)}"


def _head(message: str) -> str:
    """The first line of several: a list of faults stands above, where the daemon began."""
    first, *more = message.splitlines() or [""]
    return f"{first.rstrip(':')} (coatbench status lists them)" if more else first


def _name(run: Mapping[str, Any]) -> str:
    return f"run {run['run_id']} ({clean(run['trial'])}, {clean(run['stage'])})"


def _waiting(status: Mapping[str, Any]) -> str:
    """Which run waits and for what; empty if none does."""
    run, broken = status["run"], status["interrupted"]
    if run is not None and run["blocked"] is not None:
        blocked = run["blocked"]
        return f"{_name(run)} waits: {blocked['message']}. Next: {blocked['next_step']}"
    if run is None and broken is not None:
        return f"{_name(broken)} was interrupted and waits. Next: {resume_step(status)}"
    return ""
