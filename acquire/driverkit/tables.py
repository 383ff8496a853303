"""The tables that profiles of all families have, and the rules between them.

A family's own profile is a subclass of `DeviceTables` with its framing and fields beside.
Documented line by line in ``config/profiles/gloss-press.toml``. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from acquire.driverapi import LinkNeeds, Parity
from acquire.driverkit.fields import (
    CHANNEL_KEYS,
    CHANNEL_WORDS,
    STATES,
    UNITS,
    Angle,
    Command,
    Part,
    Seconds,
    SecondsOrNone,
    StopBits,
)
from acquire.driverkit.manners import Ask, Manners, PressRules, PullRules, StreamRules
from acquire.driverkit.presses import may_miss
from acquire.errors import Fault
from acquire.model import Quantity
from acquire.schema import Name, Number, Schema, either, rule, show
from acquire.schema.band import Band


class LineTable(Schema):
    baud_rate: Annotated[int, Field(ge=50, le=4_000_000)]
    data_bits: Literal[5, 6, 7, 8] = 8
    parity: Annotated[Parity, Field(strict=False)] = Parity.NONE
    stop_bits: StopBits = Decimal(1)
    flow_control: bool = False


class UnitTable(Schema):
    tokens: dict[str, str] = Field(default_factory=dict, max_length=64)
    default: str | None = None


class GeometryTable(Schema):
    tokens: dict[str, Angle] = Field(default_factory=dict, max_length=64)
    default: Angle | None = None


class BandTable(Schema):
    tokens: dict[str, Band] = Field(default_factory=dict, max_length=64)
    default: Band | None = None


class PartTable(Schema):
    tokens: dict[str, Part] = Field(default_factory=dict, max_length=8)
    default: Part | None = None


GATHER_S = 0.05
"""A stream is taken in twenty stretches a second: a stretch costs little beside its bytes."""


class PressTable(Schema):
    echo_window_s: SecondsOrNone = Decimal(0)
    repeat_window_s: SecondsOrNone = Decimal(0)
    highest_count: Annotated[int, Field(ge=1, le=10**9)] | None = None
    lowest_count: Literal[0, 1] = 1
    first_after_connect_is_echo: bool | None = None
    proven_count: Annotated[int, Field(ge=1, le=10**9)] | None = None
    may_be_packed: bool = False

    def unfit(self, *, is_counted: bool, count: str) -> Iterator[Fault]:
        """What does not fit to readings with or without the device's count of presses.

        `count` says what a highest count needs.
        """
        if is_counted and self.repeat_window_s:
            shown = show(self.repeat_window_s)
            yield Fault("press.repeat_window_s", shown, "0: the count tells presses apart")
        if not is_counted and self.highest_count is not None:
            yield Fault("press.highest_count", show(self.highest_count), count)
        if not is_counted and self.proven_count is not None:
            yield Fault("press.proven_count", show(self.proven_count), count)
        if not is_counted and self.may_be_packed:
            yield Fault("press.may_be_packed", show(self.may_be_packed), count)


class CarriedPressTable(PressTable):
    """The same of a count in bytes or digits of a message."""

    carried_above: Annotated[int, Field(ge=1, le=10**9)] | None = None

    def unfit(self, *, is_counted: bool, count: str) -> Iterator[Fault]:
        yield from super().unfit(is_counted=is_counted, count=count)
        if not is_counted and self.carried_above is not None:
            yield Fault("press.carried_above", show(self.carried_above), count)


class CommandTable(Schema):
    command: Command


class AskTable(Schema):
    command: Command
    every_s: Annotated[Number, Field(ge=Decimal("0.02"), le=3600)]


class AnswerTable(Schema):
    within_s: Seconds = Decimal(1)
    silent_after: Annotated[int, Field(ge=1, le=1000)] = 3


class PullTable(Schema):
    begins_at: Annotated[Number, Field(gt=0)]
    ends_below: Annotated[Number, Field(gt=0)]
    ends_after_s: Seconds = Decimal("0.2")

    @rule
    def it_ends_below_where_it_begins(self) -> Iterator[Fault]:
        if self.ends_below > self.begins_at:
            yield Fault("ends_below", show(self.ends_below), f"at most {self.begins_at}, begins_at")


class StreamTable(Schema):
    rate_hz: Annotated[Number, Field(gt=0, le=100_000)]
    step: Annotated[Number, Field(gt=0)]
    pull: PullTable | None = None


class DeviceTables(Schema):
    about: Name | None = None
    kind: Annotated[Quantity, Field(strict=False)]
    line: LineTable
    unit: UnitTable = UnitTable()
    geometry: GeometryTable = GeometryTable()
    band: BandTable = BandTable()
    part: PartTable = PartTable()
    press: CarriedPressTable = CarriedPressTable()
    start: CommandTable | None = None
    ask: AskTable | None = None
    take: CommandTable | None = None
    identify: CommandTable | None = None
    answer: AnswerTable = AnswerTable()
    stream: StreamTable | None = None

    @rule
    def a_stream_needs_nobody_to_ask(self) -> Iterator[Fault]:
        if self.stream is not None and self.ask is not None:
            yield Fault("ask", "a table", "none: samples come by themselves")

    @rule
    def every_unit_is_one_of_the_kind(self) -> Iterator[Fault]:
        known = UNITS[self.kind]
        entries = [(f"tokens.{token}", unit) for token, unit in self.unit.tokens.items()]
        for path, unit in [*entries, ("default", self.unit.default)]:
            if unit is not None and unit not in known:
                yield Fault(f"unit.{path}", show(unit), f"{either(known)} for {self.kind}")

    @rule
    def channels_are_those_of_the_kind(self) -> Iterator[Fault]:
        named = (("geometry", self.geometry), ("band", self.band), ("part", self.part))
        for key, table in named:
            has_one = table.tokens or table.default is not None
            if has_one and key != CHANNEL_KEYS.get(self.kind):
                yield Fault(key, "a table", f"none: {self.kind} has no {key}")

    @property
    def channel_key(self) -> str:
        """What a channel is called here: geometry, band, or nothing."""
        return CHANNEL_KEYS.get(self.kind, "")

    @property
    def channels(self) -> GeometryTable | BandTable | PartTable:
        """The channels of this kind: tokens of the device, and the default."""
        if self.kind is Quantity.CLIMATE:
            return self.part
        return self.band if self.kind is Quantity.TRANSMITTANCE else self.geometry

    @property
    def is_state(self) -> bool:
        """Whether an answer says how it stands now, so that none can be an old result."""
        return self.kind in STATES

    def no_channel(self, of: str) -> Fault:
        """The fault of a value that does not say its channel where there is no default."""
        wanted = f"{CHANNEL_WORDS[self.channel_key]} for {of}, which does not say it"
        return Fault(f"{self.channel_key}.default", "nothing", wanted)

    def needs(self) -> LinkNeeds:
        """The settings of the line; of tables that have no fault."""
        line = self.line
        return LinkNeeds(
            baud_rate=line.baud_rate,
            data_bits=line.data_bits,
            parity=line.parity,
            stop_bits=float(line.stop_bits),
            flow_control=line.flow_control,
            gather_s=0.0 if self.stream is None else GATHER_S,
        )

    def manners(self, *, has_count: bool) -> Manners:
        """What is sent and how presses are told apart; of tables that have no fault."""
        press, first_is_echo = self.press, self.press.first_after_connect_is_echo
        return Manners(
            quantity=self.kind,
            presses=PressRules(
                has_count=has_count,
                echo_window_s=float(press.echo_window_s),
                repeat_window_s=float(press.repeat_window_s),
                highest_count=press.highest_count,
                lowest_count=press.lowest_count,
                first_is_echo=self.ask is not None and not self.is_state
                if first_is_echo is None
                else first_is_echo,
                may_miss=may_miss(float(self.ask.every_s) if self.ask else 0.0),
                proven_count=press.proven_count,
                carried_above=press.carried_above,
                may_be_packed=press.may_be_packed,
                drops_same=self.kind is Quantity.STROKES and self.ask is not None,
            ),
            ask=Ask(_bytes(self.ask.command), float(self.ask.every_s)) if self.ask else None,
            take=_bytes(self.take.command) if self.take else b"",
            identify=_bytes(self.identify.command) if self.identify else b"",
            start=_bytes(self.start.command) if self.start else b"",
            answer_within_s=float(self.answer.within_s),
            silent_after=self.answer.silent_after,
            stream=self._stream(),
        )

    def _stream(self) -> StreamRules | None:
        if self.stream is None:
            return None
        pull = self.stream.pull
        rules = None
        if pull is not None:
            rules = PullRules(pull.begins_at, pull.ends_below, pull.ends_after_s)
        return StreamRules(self.stream.rate_hz, self.stream.step, rules)


def _bytes(command: str) -> bytes:
    return command.encode("latin-1")
