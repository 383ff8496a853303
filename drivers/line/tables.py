"""The rules between the entries of a line profile, before anything is made of them.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

from acquire.driverkit import Means
from acquire.errors import Fault
from acquire.model import Quantity
from acquire.schema import Unsound, either, rule, show, sound
from drivers.line.ending import unending
from drivers.line.entries import SIGN, SIGN_BEHIND, Entries


class ProfileTables(Entries):
    """All entries of a profile, held against one another."""

    @rule
    def strokes_are_those_of_a_counter(self) -> Iterator[Fault]:
        for index, message in sound(self.message, "means"):
            if message.means is Means.STROKE and self.kind is not Quantity.STROKES:
                path = f"message[{index}].means"
                yield Fault(path, '"stroke"', f"another one: this is no counter but {self.kind}")
            elif message.means is Means.STROKE and self.ask is not None:
                wanted = "none: a counter tells of a stroke by itself, and of its count when asked"
                yield Fault("ask", "a table", wanted)

    @rule
    def each_pattern_once(self) -> Iterator[Fault]:
        first: dict[str, int] = {}
        for index, message in sound(self.message, "pattern"):
            earlier = first.setdefault(message.pattern, index)
            if earlier != index:
                wanted = f"a pattern of its own: message[{earlier}] has this one"
                yield Fault(f"message[{index}].pattern", show(message.pattern), wanted)

    @rule
    def a_press_has_all_its_lines(self) -> Iterator[Fault]:
        messages = list(sound(self.message, "means", "in_press"))
        lines = {line for _, message in messages for line in message.in_press}
        with suppress(Unsound):
            if lines and not self.text.together_s:
                wanted = "the silence that ends a press: there are lines in_press"
                yield Fault("text.together_s", show(self.text.together_s), wanted)
            if not self.text.together_s:
                return
            for index, message in messages:
                path = f"message[{index}].in_press"
                if message.means is Means.SAMPLE:
                    yield Fault("text.together_s", show(self.text.together_s), "0 for samples")
                elif message.means in (Means.READING, Means.STROKE) and not message.in_press:
                    yield Fault(path, "nothing", "which lines of a press these are, such as [1]")
            if missing := sorted(set(range(1, max(lines, default=0))) - lines):
                wanted = f"one of line {missing[0]}: a press has no gap"
                yield Fault("message", f"no message in_press = [{missing[0]}]", wanted)

    @rule
    def the_terminator_stands_in_no_line(self) -> Iterator[Fault]:
        yield from unending(self)

    @rule
    def values_of_one_line_are_of_different_channels(self) -> Iterator[Fault]:
        for index, message in self._readings():
            seen: dict[str, str] = {}
            for token in message.tokens_of_values:
                channel = self.channels.tokens.get(token)
                if channel is not None and (other := seen.setdefault(channel, token)) != token:
                    wanted = f"another one than {show(other)}, which is in message[{index}] too"
                    yield Fault(f"{self.channel_key}.tokens.{token}", show(channel), wanted)

    @rule
    def samples_have_a_rate(self) -> Iterator[Fault]:
        if (Means.SAMPLE in self.means()) != (self.stream is not None):
            got, wanted = ("no table", "its rate and step: there are samples")
            if self.stream is not None:
                got, wanted = "a table", 'a [[message]] with means = "sample" for it'
            yield Fault("stream", got, wanted)

    @rule
    def every_reading_has_a_unit(self) -> Iterator[Fault]:
        for index, message in self._readings():
            if "unit" not in message.groups and self.unit.default is None:
                yield Fault(
                    "unit.default", "nothing", f"a unit for message[{index}], which has none"
                )
            if "unit" in message.groups and not self.unit.tokens:
                yield Fault("unit.tokens", "nothing", f"what the unit of message[{index}] may say")

    @rule
    def every_sign_means_something(self) -> Iterator[Fault]:
        used = [
            index for index, message in self._readings() if {SIGN, SIGN_BEHIND} & message.groups
        ]
        if used and set(self.sign.tokens.values()) != {"plus", "minus"}:
            wanted = f"what the sign of message[{used[0]}] may say, plus and minus"
            yield Fault("sign.tokens", either(self.sign.tokens, "and") or "nothing", wanted)
        if self.sign.tokens and not used:
            yield Fault("sign", "a table", "a group (?P<sign>...) or (?P<sign_behind>...) for it")

    @rule
    def limits_are_in_one_unit(self) -> Iterator[Fault]:
        for name, got, wanted in self.value.unfit(
            {*self.unit.tokens.values(), self.unit.default or ""} - {""}
        ):
            yield Fault(f"value.{name}", got, wanted)

    @rule
    def every_reading_says_its_channel(self) -> Iterator[Fault]:
        key, channels = self.channel_key, self.channels
        for index, message in [*self._readings(), *self._nothings()]:
            path = f"message[{index}].pattern"
            for group in sorted({"geometry", "band", "part"} & message.groups - {key}):
                yield Fault(path, f"the group {group!r}", f"none: {self.kind} has no {group}")
        for index, message in self._readings():
            path = f"message[{index}].pattern"
            if message.tokens_of_values and not key:
                yield Fault(path, "several values", f"one value: {self.kind} has one a press")
            if not key:
                continue
            for token in message.tokens_of_values:
                if token not in channels.tokens:
                    wanted = f"{show(token)}, which the group value_{token} of message[{index}] has"
                    yield Fault(f"{key}.tokens", either(channels.tokens, "and"), wanted)
            if message.tokens_of_values:
                if self.is_channel_beside:
                    wanted = f"one value: a line beside says its {key}"
                    yield Fault(path, "several values", wanted)
                continue
            if self.is_channel_beside:
                if key in message.groups or channels.default is not None:
                    wanted = f"no {key} of its own, nor a default: a line beside says it"
                    yield Fault(path, show(message.pattern), wanted)
                if not channels.tokens:
                    wanted = f"what the {key} in a line beside message[{index}] may say"
                    yield Fault(f"{key}.tokens", "nothing", wanted)
                continue
            if key not in message.groups and channels.default is None:
                yield self.no_channel(f"message[{index}]")
            if key in message.groups and not channels.tokens:
                wanted = f"what the {key} of message[{index}] may say"
                yield Fault(f"{key}.tokens", "nothing", wanted)
