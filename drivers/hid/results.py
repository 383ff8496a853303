"""From what reports show to facts: presses found, told apart, and given as readings.

Facts follow from reports alone and from when they came. One thread.
"""

from __future__ import annotations

from acquire.driverkit.presses import NEW_BIT, PressLog, missed_words
from acquire.driverkit.streaming import Streaming
from acquire.model import Fact, Instant, Noise, Notice, NoticeKind, Reading
from drivers.hid.entries import PressBy
from drivers.hid.plan import Plan
from drivers.hid.profile import HidProfile
from drivers.hid.settle import Settle
from drivers.hid.sight import OUT_OF_RANGE, Sight, State
from drivers.hid.span import Span

_NO_VALUE = "nothing was taken: the value is still in motion; next: wait, and take it again"


class Results:
    """The results of one connection."""

    def __init__(self, profile: HidProfile) -> None:
        self._quantity = profile.quantity
        self._by = profile.by
        self._presses = PressLog(profile.presses, is_asked=False)
        self._settle = Settle(profile.settling)
        stream = profile.stream
        self._stream = None if stream is None else Streaming(stream, profile.quantity)
        self._state = State.UNKNOWN
        self._troubles: dict[int, tuple[str, ...]] = {}
        self._button: bool | None = None
        self._is_adjusted = False
        self._calibrations: int | None = None
        self._is_pressed = False
        self._is_taken = False

    def connected(self, at: Instant) -> None:
        """The link was opened."""
        self._presses.connected(at)

    def await_taken(self) -> None:
        """The device was told to measure: the next value that stands is the result."""
        self._is_taken = True

    def interrupted(self) -> None:
        """Reports were lost."""
        self._settle.interrupted()

    def flush(self, at: Instant) -> list[Fact]:
        """Samples of a stream since the last flush."""
        return [] if self._stream is None else self._stream.flush(at)

    def settled(self, at: Instant) -> list[Fact]:
        """Something else than samples is to be told; a pull that it broke into is none."""
        if self._stream is None:
            return []
        facts = self._stream.flush(at)
        self._stream.interrupted()
        return facts

    def heard(self, plan: Plan, report: bytes, span: Span, at: Instant) -> list[Fact]:
        """The facts of a report that came by itself."""
        number = _number(plan, report)
        found = plan.reports.get(number)
        if found is None:
            return []
        sight = found.sight(report)
        if isinstance(sight, str):
            return self._noise(span, at, sight)
        notices = self._notices(number, sight)
        sight = self._there(sight)
        if self._stream is not None:
            return self._sample(self._stream, sight, notices, span, at)
        is_press = self._is_press(sight)
        if is_press is None:
            why = "the value was in motion" if self._state is State.MOVING else "it had a fault"
            notices.append((NoticeKind.TROUBLE, f"a press is no reading: {why}"))
        if not is_press and not notices:
            return []
        return self._told(report, sight, bool(is_press), notices, span, at)

    def taken(self, plan: Plan, report: bytes, span: Span, at: Instant) -> list[Fact]:
        """The facts of a report that was asked for."""
        number = _number(plan, report)
        found = plan.reports.get(number)
        sight = "a report without values" if found is None else found.sight(report)
        if isinstance(sight, str):
            return self._noise(span, at, sight)
        notices = self._notices(number, sight)
        sight = self._there(sight)
        is_reading = bool(sight.values) and self._state not in (State.MOVING, State.FAULT)
        if is_reading:
            self._settle.taken()
        elif not notices:
            text = _NO_VALUE if self._state is State.MOVING else "nothing was taken: no value"
            notices.append((NoticeKind.TROUBLE, text))
        return self._told(report, sight, is_reading, notices, span, at)

    def _there(self, sight: Sight) -> Sight:
        """Without values that are none; out of range no number is needed."""
        if self._state in OUT_OF_RANGE or all([one.is_there for one in sight.values]):
            return sight
        return sight._replace(values=tuple(one for one in sight.values if one.is_there))

    # -- presses -------------------------------------------------------------------------------

    def _is_press(self, sight: Sight) -> bool | None:
        """Whether the values are a press; None if they would be one if they stood."""
        state, values = self._state, sight.values
        is_stable = self._by is PressBy.STABLE and self._settle.is_press(state, values)
        if not values:
            return False
        if state is State.FAULT:
            is_wanted = self._is_taken or self._is_pressed or self._by is PressBy.REPORT
            self._is_taken = self._is_pressed = False
            return None if is_wanted else False
        if self._is_taken and state is not State.MOVING:
            self._is_taken = False
            self._settle.taken()
            return True
        if self._is_pressed:
            self._is_pressed = False
            return True
        if self._by is PressBy.REPORT:
            return None if state is State.MOVING else True
        return is_stable

    def _notices(self, number: int, sight: Sight) -> list[tuple[NoticeKind, str]]:
        """What the report tells besides values, each at its onset."""
        told: list[tuple[NoticeKind, str]] = []
        if sight.state is not None:
            self._state = sight.state
        is_adjusted = False
        if sight.adjusted is not None:
            is_adjusted = sight.adjusted and not self._is_adjusted
            self._is_adjusted = sight.adjusted
        if sight.calibrations is not None:
            is_adjusted |= self._calibrations not in (None, sight.calibrations)
            self._calibrations = sight.calibrations
        if is_adjusted:
            told.append((NoticeKind.ADJUSTED, ""))
        before = self._troubles.get(number, ())
        if sight.troubles != before:
            told += [(NoticeKind.TROUBLE, text) for text in sight.troubles if text not in before]
            self._troubles[number] = sight.troubles
        if sight.button is not None:
            # Held down when it was plugged in is no press.
            self._is_pressed |= sight.button and self._button is False
            self._button = sight.button
        return told

    # -- facts ---------------------------------------------------------------------------------

    def _told(
        self,
        report: bytes,
        sight: Sight,
        is_press: bool,
        notices: list[tuple[NoticeKind, str]],
        span: Span,
        at: Instant,
    ) -> list[Fact]:
        """Notices, then readings. Of facts that are no readings one alone can have the bytes."""
        readings: list[Fact] = []
        start, end = span.start, span.end
        raw = span.raw() if is_press or notices else b""
        for place, shown in enumerate(sight.values if is_press else ()):
            heard = shown.heard(self._state, sight.presses)
            press = self._presses.result(report, heard, at, goes_on=place > 0)
            flagged = press.flags
            if press.is_unproven:
                notices.append((NoticeKind.TROUBLE, NEW_BIT))
            if press.restarted:
                notices.append((NoticeKind.POWER_UP, ""))
            if press.missed:
                notices.append((NoticeKind.TROUBLE, missed_words(press.missed)))
            if flagged is None:
                continue
            _, text, value, unit, channel, count, flags = heard
            readings.append(
                Reading(
                    self._quantity, channel, value, unit, text, at, raw, start, end, count,
                    flags | flagged if flags else flagged,
                )
            )  # fmt: skip
        facts: list[Fact] = []
        for place, (kind, text) in enumerate(notices):
            if readings:
                facts.append(Notice(kind, at, b"", start, start, text))
            elif place:
                facts.append(Notice(kind, at, b"", end, end, text))
            else:
                facts.append(Notice(kind, at, raw, start, end, text))
        return facts + readings

    def _sample(
        self,
        stream: Streaming,
        sight: Sight,
        notices: list[tuple[NoticeKind, str]],
        span: Span,
        at: Instant,
    ) -> list[Fact]:
        facts: list[Fact] = []
        if notices:
            facts = self.settled(at)
            start = span.start
            facts += [Notice(kind, at, b"", start, start, text) for kind, text in notices]
        if not sight.values:
            return facts
        (shown,) = sight.values
        heard = shown.heard(self._state, None)
        count = "beyond the range" if heard.value is None else stream.count_of(heard.value)
        if isinstance(count, str):
            return facts + self._noise(span, at, f"no sample: {count}")
        return facts + stream.add(count, heard.unit, heard.channel, span.start, span.end, at)

    def _noise(self, span: Span, at: Instant, why: str) -> list[Fact]:
        return [*self.settled(at), Noise(at, span.raw(), span.start, span.end, why)]


def _number(plan: Plan, report: bytes) -> int:
    """The number of a report: its first byte, where reports of the device have one."""
    return report[0] if plan.has_ids and report else 0
