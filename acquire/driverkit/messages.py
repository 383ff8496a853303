"""The rules of profiles whose device sends messages of several kinds: lines of text, frames.

A family's profile is a subclass that has the messages and says what each kind bears. Pure; any
thread.
"""

from __future__ import annotations

from collections.abc import Iterator

from acquire.driverkit.heard import Means
from acquire.driverkit.tables import DeviceTables
from acquire.errors import Fault
from acquire.schema import either, rule


class MessageTables(DeviceTables):
    """`means` and `counts` are the family's."""

    def means(self) -> list[Means]:
        """What each kind of message means, in the order of the file."""
        raise NotImplementedError

    def counts(self) -> list[tuple[str, bool]]:
        """Of each kind that is a reading: where a count would be told, and whether one is."""
        raise NotImplementedError

    @rule
    def there_are_readings(self) -> Iterator[Fault]:
        means = self.means()
        if not {Means.READING, Means.SAMPLE, Means.STROKE} & set(means):
            yield Fault("message", either(means, "and"), 'one with means = "reading" at least')

    @rule
    def an_asked_name_can_be_understood(self) -> Iterator[Fault]:
        if self.identify is not None and Means.IDENTITY not in self.means():
            yield Fault("identify", "a command", 'a [[message]] with means = "identity" for it')

    @rule
    def presses_are_told_apart_in_one_way(self) -> Iterator[Fault]:
        readings = self.counts()
        counted = [path for path, has_count in readings if has_count]
        if counted and len(counted) != len(readings):
            uncounted = next(path for path, has_count in readings if not has_count)
            yield Fault(uncounted, "no count", f"a count, as {counted[0]} has one")
        yield from self.press.unfit(is_counted=bool(counted), count="a count in the readings")
        if not counted and self.ask is not None and readings and not self.is_state:
            wanted = (
                "a count in the readings, without which the answer to an ask may be an old result; "
                "or no [ask] and a [take]"
            )
            yield Fault("ask", "readings without count", wanted)
