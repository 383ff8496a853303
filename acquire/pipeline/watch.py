"""Whether every driver comes back from its calls: one that does not is named, once.

Python cannot end a stranger's endless loop, so the session it holds up hears nothing until the
daemon is started again; saying so is what can be done. The other instruments go on. Pure but for
the sink; the daemon's main thread.
"""

from __future__ import annotations

from collections.abc import Mapping

from acquire.model import Batch, Incident, IncidentKind, Instant
from acquire.pipeline.outbox import Sink
from acquire.pipeline.session import Session

HANGS_AFTER_S = 5.0
SINK_WAIT_S = 0.1
LOADING = "needs"
"""The call in which a driver is imported. A slow one is slow at every start, so another start
helps nobody; it is used whenever it comes."""


class Watch:
    """Looks at sessions; `drivers` has the name of the driver of each instrument."""

    def __init__(
        self, sessions: Mapping[str, Session], drivers: Mapping[str, str], sink: Sink
    ) -> None:
        self._sessions = sessions
        self._drivers = drivers
        self._sink = sink
        self._told: dict[str, Instant] = {}

    def look(self, now: Instant) -> None:
        """Tell of drivers that have not come back, and of those that have after all."""
        for name, session in self._sessions.items():
            inside = session.inside
            since = self._told.get(name)
            if inside is not None and since == inside.since:
                continue
            if since is not None and self._tell(
                name,
                now,
                f"the driver {self._drivers[name]} has come back after "
                f"{now.seconds_since(since):.0f} s; what {name} sent meanwhile is read now",
            ):
                del self._told[name]
            if inside is None or now.seconds_since(inside.since) < HANGS_AFTER_S:
                continue
            message = f"{self.hanging(name)}; nothing is heard of {name} meanwhile. " + (
                f"Next: wait, {name} is opened as soon as its driver is loaded; if that never "
                "comes, report it to whoever wrote the driver. Other instruments go on"
                if inside.call == LOADING
                else "Next: stop coatbench serve and start it again; report it to whoever wrote "
                "the driver. Other instruments go on"
            )
            if self._tell(name, now, message):
                self._told[name] = inside.since

    def hanging(self, name: str) -> str:
        """What an instrument's driver has not come back from; empty if it has."""
        inside = self._sessions[name].inside
        if inside is None:
            return ""
        return f"the driver {self._drivers[name]} has not come back from {inside.call}()"

    def _tell(self, name: str, now: Instant, message: str) -> bool:
        told = Incident(name, IncidentKind.DRIVER_HANGS, now, f"{name}: {message}")
        return self._sink(Batch(name, 0, incidents=(told,)), SINK_WAIT_S)
