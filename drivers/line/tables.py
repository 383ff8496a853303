"""The tables of a line profile and the rules between them, before anything is made of them.

Documented line by line in ``config/profiles/gloss-press.toml``. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import replace
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from acquire.driverkit import Means
from acquire.driverkit.fields import Algorithm, Seconds, SecondsOrNone
from acquire.driverkit.limits import LimitsTable
from acquire.driverkit.manners import StreamRules
from acquire.driverkit.messages import MessageTables
from acquire.driverkit.pattern import compiled
from acquire.errors import Fault
from acquire.model import Quantity
from acquire.schema import Schema, Unsound, either, rule, show, sound
from acquire.wire import Sent
from drivers.line.ending import unending
from drivers.line.fields import Between, Letters, Pattern, SignToken, Terminator, Tokens

VALUE = "value"
VALUE_AT = "value_"
"""Before the token of a channel: several values of one press in one line."""
SIGN, SIGN_BEHIND = "sign", "sign_behind"
"""The sign of the value where it does not stand right before its digits; both are one token."""
AGAIN, COUNT_AGAIN = "again", "count_again"
"""The value and the count once more: a line in which they differ is noise."""
CHANNELS_AGAIN = {"geometry": "geometry_again", "band": "band_again"}
"""So are the geometry and the band, as the keys."""

_NEEDED = {Means.READING: {VALUE}, Means.SAMPLE: {VALUE}, Means.IDENTITY: {"serial"}}
_ALLOWED = {
    Means.READING: {
        "value",
        "unit",
        "geometry",
        "band",
        "part",
        "count",
        "serial",
        AGAIN,
        COUNT_AGAIN,
        SIGN,
        SIGN_BEHIND,
        *CHANNELS_AGAIN.values(),
    },
    Means.STROKE: {"count", COUNT_AGAIN},
    Means.SAMPLE: {"value", "unit", "geometry", "band", SIGN, SIGN_BEHIND},
    Means.IDENTITY: {"serial"},
    Means.POWER_UP: {"serial"},
    Means.ADJUSTED: {"count"},
    Means.TROUBLE: {"code", "count"},
    Means.NOTHING: {"count", *CHANNELS_AGAIN},
}


class TextTable(Schema):
    terminator: Terminator
    encoding: Literal["ascii", "latin-1", "utf-8"] = "ascii"
    # With the limits of `acquire.driverkit.pattern`: no line keeps the matcher busy for long.
    max_line_bytes: Annotated[int, Field(ge=4, le=256)] = 64
    line_timeout_s: Seconds = Decimal("0.5")
    empty: Literal["nothing", "noise"] = "nothing"
    together_s: SecondsOrNone = Decimal(0)


class ChecksumTable(Schema):
    kind: Algorithm
    form: Letters = "hex-upper"
    after: Between
    first: Annotated[int, Field(ge=0, le=8)] = 0
    with_after: bool = False
    sent: Annotated[Sent, Field(strict=False)] = Sent.PLAIN

    @rule
    def what_is_covered_stands_there(self) -> Iterator[Fault]:
        if self.with_after and not self.after:
            yield Fault("with_after", "true", "a text in `after` that the checksum covers, too")


class MessageTable(Schema):
    means: Annotated[Means, Field(strict=False)]
    pattern: Pattern
    example: str | None = None
    in_press: Annotated[list[Annotated[int, Field(ge=1, le=16)]], Field(max_length=16)] = Field(
        default_factory=list
    )
    checksum: bool = True
    length: Annotated[int, Field(ge=1, le=256)] | None = None
    width: Annotated[int, Field(ge=1, le=64)] | None = None

    @rule
    def only_values_have_a_width(self) -> Iterator[Fault]:
        if self.width is not None and self.means not in (Means.READING, Means.SAMPLE):
            yield Fault("width", show(self.width), f"nothing: there is no value in {self.means}")

    @rule
    def what_bears_no_checksum_bears_no_meaning(self) -> Iterator[Fault]:
        if not self.checksum and self.means is not Means.NOTHING:
            wanted = 'true, or left out: only means = "nothing" can do without'
            yield Fault("checksum", "false", wanted)

    @rule
    def what_means_nothing_says_more_only_in_a_press(self) -> Iterator[Fault]:
        told = self.groups & _ALLOWED[Means.NOTHING] if self.means is Means.NOTHING else ()
        for group in sorted(told):
            if not (self.in_press and self.checksum):
                wanted = (
                    "none: a line says it as one of a press (in_press), with the checksum of all"
                )
                yield Fault("pattern", f"the group {group!r}", wanted)

    @rule
    def groups_are_those_of_the_meaning(self) -> Iterator[Fault]:
        groups = {VALUE if g.startswith(VALUE_AT) else g for g in self.groups}
        if VALUE in self.groups and self.tokens_of_values:
            yield Fault("pattern", show(self.pattern), "value, or value_20 and its like, not both")
        for key in sorted(groups & {"geometry", "band", "part"}):
            if self.tokens_of_values:
                yield Fault("pattern", f"the group {key!r}", "none: value_20 and its like say it")
        for group in sorted({SIGN, SIGN_BEHIND} & groups):
            if self.tokens_of_values:
                yield Fault("pattern", f"the group {group!r}", "none: there are several values")
        if AGAIN in groups and self.tokens_of_values:
            yield Fault("pattern", f"the group {AGAIN!r}", "none: there are several values")
        if COUNT_AGAIN in groups and "count" not in groups:
            yield Fault("pattern", show(self.pattern), "a group (?P<count>...) as well")
        for key, again in CHANNELS_AGAIN.items():
            if again in groups and key not in groups:
                yield Fault("pattern", show(self.pattern), f"a group (?P<{key}>...) as well")
        if missing := _NEEDED.get(self.means, set()) - groups:
            yield Fault(
                "pattern", show(self.pattern), f"a group (?P<{missing.pop()}>...) in {self.means}"
            )
        allowed = _ALLOWED[self.means]
        for group in sorted(groups - allowed):
            wanted = f"only {either(sorted(allowed), 'and')}" if allowed else "no named group"
            yield Fault("pattern", f"the group {show(group)}", f"{wanted} in {self.means}")

    @property
    def groups(self) -> frozenset[str]:
        return frozenset(compiled(self.pattern).groupindex)

    @property
    def tokens_of_values(self) -> list[str]:
        """The channel tokens of values that have one in their name, in the order of the line."""
        names = compiled(self.pattern).groupindex
        return [g.removeprefix(VALUE_AT) for g in names if g.startswith(VALUE_AT)]


class SignTable(Schema):
    tokens: Annotated[dict[SignToken, Literal["plus", "minus"]], Field(max_length=8)] = Field(
        default_factory=dict
    )


class ValueTable(LimitsTable):
    decimal: Literal[".", ","] = "."
    thousands: Literal["", ".", ",", "'", " "] = ""
    leading_zeros: bool = True
    exponent: bool = False
    implied_decimals: Annotated[int, Field(ge=0, le=6)] = 0
    over: Tokens = Field(default_factory=list)
    under: Tokens = Field(default_factory=list)

    @rule
    def one_sign_does_not_mean_two_things(self) -> Iterator[Fault]:
        if self.thousands == self.decimal:
            yield Fault("thousands", show(self.thousands), "another sign than that of `decimal`")
        if self.thousands and self.exponent:
            yield Fault("thousands", show(self.thousands), "nothing: numbers have an exponent")

    @rule
    def a_power_of_ten_has_no_decimals_of_the_display(self) -> Iterator[Fault]:
        # As many digits are sent at any size: of 9.14E-01 three stand behind the point.
        if self.most_decimals is not None and self.exponent:
            wanted = "nothing: numbers have an exponent, and the pattern holds their digits"
            yield Fault("most_decimals", show(self.most_decimals), wanted)

    @rule
    def a_point_that_is_left_out_stands_in_no_other_form(self) -> Iterator[Fault]:
        if not self.implied_decimals:
            return
        got = show(self.implied_decimals)
        if self.exponent or self.thousands:
            name = "exponent" if self.exponent else "thousands"
            yield Fault("implied_decimals", got, f"nothing: there is {name}")
        if self.most_decimals is not None and self.most_decimals < self.implied_decimals:
            wanted = f"at least {got}, or nothing: implied_decimals says so many"
            yield Fault("most_decimals", show(self.most_decimals), wanted)

    @rule
    def no_token_is_above_and_below(self) -> Iterator[Fault]:
        for token in sorted(set(self.over) & set(self.under)):
            yield Fault("under", show(token), "a token that is not in over as well")


class ProfileTables(MessageTables):
    text: TextTable
    checksum: ChecksumTable | None = None
    message: Annotated[list[MessageTable], Field(min_length=1, max_length=32)]
    value: ValueTable = ValueTable()
    sign: SignTable = SignTable()

    def _stream(self) -> StreamRules | None:
        rules = super()._stream()
        # As many digits are sent near zero as anywhere: no step is as fine.
        return None if rules is None else replace(rules, takes_nearest=self.value.exponent)

    def means(self) -> list[Means]:
        return [message.means for message in self.message]

    def counts(self) -> list[tuple[str, bool]]:
        # All of them: a fault in one of the patterns must not look like a missing count.
        return [
            (f"message[{index}].pattern", "count" in message.groups or self.is_counted_beside)
            for index, message in enumerate(self.message)
            if message.means in (Means.READING, Means.STROKE) and message.pattern
        ]

    @property
    def is_counted_beside(self) -> bool:
        """Whether a line of a press that means nothing bears its count."""
        return any("count" in message.groups for _, message in self._nothings())

    @property
    def is_channel_beside(self) -> bool:
        """Whether a line of a press that means nothing says the channel of its value."""
        return any(self.channel_key in message.groups for _, message in self._nothings())

    def _nothings(self) -> list[tuple[int, MessageTable]]:
        """The sound messages that mean nothing."""
        return [
            (index, message)
            for index, message in sound(self.message, "means", "pattern")
            if message.means is Means.NOTHING
        ]

    def _readings(self) -> list[tuple[int, MessageTable]]:
        """The sound messages that mean a reading or a sample."""
        return [
            (index, message)
            for index, message in sound(self.message, "means", "pattern")
            if message.means in (Means.READING, Means.SAMPLE)
        ]

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
