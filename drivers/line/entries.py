"""The entries of a line profile, each by itself.

Documented line by line in ``config/profiles/gloss-press.toml``. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
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
from acquire.schema import Schema, either, rule, show, sound
from acquire.wire import Sent
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


class Entries(MessageTables):
    """All entries of a profile, each sound by itself."""

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
