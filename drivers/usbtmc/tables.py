"""The tables of a usbtmc profile and the rules between them, before anything is made of them.

Documented line by line in ``config/profiles/usbtmc-head.toml``. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from acquire.driverkit.fields import ANGLES, UNITS, Command, MeterKind, Seconds
from acquire.driverkit.pattern import compiled
from acquire.driverkit.tables import CommandTable, PressTable
from acquire.errors import Fault
from acquire.model import Quantity
from acquire.schema import Name, Number, Schema, either, rule, show, sound
from acquire.wire.definite import NumberForm, NumberOrder

VALUE = "value"
VALUE_AT = "value_"
SPARE_BYTES = 1 << 12
LONGEST_TRANSFER = (1 << 20) - SPARE_BYTES


def _pattern(value: str) -> str:
    compiled(value)
    return value


Pattern = Annotated[str, AfterValidator(_pattern)]
Bit = Annotated[int, Field(ge=0, le=7)]
Nanometres = Annotated[Number, Field(gt=0, le=100_000)]


class UsbTable(Schema):
    timeout_s: Annotated[Number, Field(gt=0, le=5)] = Decimal(2)
    transfer_bytes: Annotated[int, Field(ge=64, le=LONGEST_TRANSFER)] = 2048
    answer_bytes: Annotated[int, Field(ge=64, le=LONGEST_TRANSFER)] = 65_536


class StartTable(Schema):
    commands: Annotated[list[Command], Field(min_length=1, max_length=32)]


class StatusTable(Schema):
    """Bits of the status byte; the error queue's is SCPI's own (SCPI-1999 volume 1, 9)."""

    ready: Bit | None = None
    adjusted: Bit | None = None
    error: Bit | None = 2

    @rule
    def each_bit_means_one_thing(self) -> Iterator[Fault]:
        bits = [bit for bit in (self.ready, self.adjusted, self.error) if bit is not None]
        if len(set(bits)) != len(bits):
            yield Fault("", either(map(str, bits), "and"), "bits that differ")


class ErrorTable(Schema):
    command: Command = "SYST:ERR?\n"
    press: Pattern | None = None

    @rule
    def the_press_is_counted(self) -> Iterator[Fault]:
        if self.press is not None and "count" not in compiled(self.press).groupindex:
            yield Fault("press", show(self.press), "a group (?P<count>...)")


class PollTable(Schema):
    every_s: Annotated[Number, Field(ge=Decimal("0.02"), le=3600)]
    command: Command | None = None
    pattern: Pattern | None = None
    fresh: Annotated[list[str], Field(max_length=16)] = Field(default_factory=list)

    @rule
    def an_answer_tells_by_count_or_flag(self) -> Iterator[Fault]:
        if self.pattern is None:
            if self.fresh:
                yield Fault("fresh", show(self.fresh), "a pattern with a group (?P<flag>...)")
            return
        if self.command is None:
            yield Fault("pattern", show(self.pattern), "a command whose answer it understands")
        groups = set(compiled(self.pattern).groupindex)
        if groups not in ({"count"}, {"flag"}):
            yield Fault("pattern", show(self.pattern), "one group, (?P<count>...) or (?P<flag>...)")
        if ("flag" in groups) != bool(self.fresh):
            yield Fault("fresh", show(self.fresh), "what the flag is when a result is new")


class SpectrumTable(Schema):
    head: Pattern = ""
    form: Annotated[NumberForm, Field(strict=False)]
    order: Annotated[NumberOrder, Field(strict=False)]
    scale: Annotated[Number, Field(gt=0)] = Decimal(1)
    line_feed: bool = True

    @rule
    def the_head_has_a_count_or_nothing(self) -> Iterator[Fault]:
        if set(compiled(self.head).groupindex) - {"count"}:
            yield Fault("head", show(self.head), "no group but (?P<count>...)")

    @rule
    def only_integers_are_scaled(self) -> Iterator[Fault]:
        if self.scale != 1 and self.form in (NumberForm.BINARY32, NumberForm.BINARY64):
            yield Fault("scale", show(self.scale), f"none: {self.form} is kept as it is sent")


class CountsTable(Schema):
    """The spectrum is counts; these ask for the dark and the open beam that the head keeps."""

    dark: Command
    open: Command


class WavelengthsTable(Schema):
    start_nm: Nanometres | None = None
    step_nm: Nanometres | None = None
    command: Command | None = None
    pattern: Pattern | None = None
    scale: Annotated[Number, Field(gt=0)] = Decimal(1)

    @rule
    def they_are_given_or_asked_for(self) -> Iterator[Fault]:
        given = self.start_nm is not None and self.step_nm is not None
        if (self.start_nm is None) != (self.step_nm is None) or given == (self.command is not None):
            yield Fault("", "neither or both", "start_nm and step_nm, or a command")
        if self.pattern is not None:
            if self.command is None:
                yield Fault("pattern", show(self.pattern), "a command whose answer it understands")
            if set(compiled(self.pattern).groupindex) != {"start", "step", "points"}:
                wanted = "the groups (?P<start>...), (?P<step>...) and (?P<points>...)"
                yield Fault("pattern", show(self.pattern), wanted)


class BandTable(Schema):
    from_nm: Nanometres
    to_nm: Nanometres
    name: Annotated[str, Field(pattern=r"^[0-9A-Za-z][0-9A-Za-z .-]{0,31}$")] | None = None

    @rule
    def it_rises(self) -> Iterator[Fault]:
        if self.from_nm >= self.to_nm:
            yield Fault("to_nm", show(self.to_nm), f"more than from_nm, {self.from_nm}")

    @property
    def called(self) -> str:
        return self.name or f"{self.from_nm.normalize():f}-{self.to_nm.normalize():f}"


class AnswerTable(Schema):
    means: Literal["reading", "nothing"] = "reading"
    pattern: Pattern
    example: str | None = None

    @property
    def groups(self) -> frozenset[str]:
        return frozenset(compiled(self.pattern).groupindex)

    @rule
    def groups_are_those_of_the_meaning(self) -> Iterator[Fault]:
        values = {group for group in self.groups if group == VALUE or group.startswith(VALUE_AT)}
        if self.means == "reading" and not values:
            yield Fault("pattern", show(self.pattern), "a group (?P<value>...) or (?P<value_x>...)")
        strange = self.groups - values - {"count"} if self.means == "reading" else self.groups
        for group in sorted(strange):
            yield Fault("pattern", f"the group {show(group)}", "only count, value and value_x")


class TimeTable(Schema):
    within_s: Seconds = Decimal(4)
    silent_after: Annotated[int, Field(ge=1, le=1000)] = 3


class ProfileTables(Schema):
    about: Name | None = None
    kind: MeterKind
    unit: str
    usb: UsbTable = UsbTable()
    times: TimeTable = TimeTable()
    identify: CommandTable | None = None
    start: StartTable | None = None
    status: StatusTable | None = None
    error: ErrorTable = ErrorTable()
    adjusted: CommandTable | None = None
    fetch: CommandTable | None = None
    take: CommandTable | None = None
    poll: PollTable | None = None
    press: PressTable = PressTable()
    spectrum: SpectrumTable | None = None
    counts: CountsTable | None = None
    wavelengths: WavelengthsTable | None = None
    band: Annotated[list[BandTable], Field(max_length=32)] = Field(default_factory=list)
    answer: Annotated[list[AnswerTable], Field(max_length=16)] = Field(default_factory=list)
    channels: dict[str, str] = Field(default_factory=dict, max_length=32)
    over: Annotated[list[str], Field(max_length=16)] = Field(default_factory=list)
    under: Annotated[list[str], Field(max_length=16)] = Field(default_factory=list)

    @rule
    def each_answer_means_one_thing(self) -> Iterator[Fault]:
        first: dict[str, int] = {}
        for index, answer in sound(self.answer, "pattern"):
            if (earlier := first.setdefault(answer.pattern, index)) != index:
                wanted = f"a pattern of its own: answer[{earlier}] has this one"
                yield Fault(f"answer[{index}].pattern", show(answer.pattern), wanted)
            seen: dict[str, str] = {}
            for group in sorted(answer.groups - {"count"}):
                token = "" if group == VALUE else group.removeprefix(VALUE_AT)
                channel = self.channels.get(token)
                if channel is not None and (other := seen.setdefault(channel, token)) != token:
                    wanted = f"a channel of its own in answer[{index}]: {show(other)} has this one"
                    yield Fault(f"channels.{token}", show(channel), wanted)

    @rule
    def no_token_is_above_and_below(self) -> Iterator[Fault]:
        for index, token in enumerate(self.under):
            if token in self.over:
                wanted = "a token that is not in over as well"
                yield Fault(f"under[{index}]", show(token), wanted)

    @rule
    def the_unit_is_one_of_the_kind(self) -> Iterator[Fault]:
        if self.unit not in UNITS[self.kind]:
            yield Fault("unit", show(self.unit), f"{either(UNITS[self.kind])} for {self.kind}")

    @rule
    def there_are_results(self) -> Iterator[Fault]:
        readings = [a for _, a in sound(self.answer, "means", "pattern") if a.means == "reading"]
        if self.spectrum is None and not readings and not self.answer:
            yield Fault("answer", "none", "a [[answer]] that is a reading, or a [spectrum]")

    @rule
    def something_brings_them(self) -> Iterator[Fault]:
        if self.poll is not None and self.poll.command is None and self.status is None:
            yield Fault("status", "nothing", "a table: a poll without command asks its byte")
        by_button = self.status is not None and self.status.ready is not None
        by_poll = self.poll is not None and self.poll.pattern is not None
        asked = self.poll is not None and self.poll.command is not None and not by_poll
        if (by_button or by_poll) and self.fetch is None:
            yield Fault("fetch", "nothing", "a command that fetches the result that is ready")
        if self.fetch is not None and not (by_button or by_poll):
            yield Fault("fetch", "a command", "a status.ready bit, or a poll with a pattern")
        if not (by_button or by_poll or asked or self.take is not None):
            yield Fault("take", "nothing", "a fetch, a poll or a take that brings results")

    @rule
    def an_old_result_can_be_told_from_a_new_one(self) -> Iterator[Fault]:
        poll = self.poll
        is_asked = poll is not None and poll.command is not None and poll.pattern is None
        if poll is not None and is_asked and not self.is_counted:
            wanted = "a count in the results: without it a result may be an old one"
            yield Fault("poll.command", show(poll.command), wanted)
        yield from self.press.unfit(is_counted=self.is_counted, count="a count in the results")

    @rule
    def presses_are_told_apart_in_one_way(self) -> Iterator[Fault]:
        counted = [
            "count" in answer.groups
            for _, answer in sound(self.answer, "means", "pattern")
            if answer.means == "reading"
        ]
        if self.spectrum is not None:
            counted.append("count" in compiled(self.spectrum.head).groupindex)
        if len(set(counted)) > 1:
            yield Fault("answer", "a count in some", "a count in every result, or in none")

    @rule
    def a_spectrum_has_wavelengths(self) -> Iterator[Fault]:
        if self.spectrum is not None and self.kind is not Quantity.TRANSMITTANCE:
            yield Fault("spectrum", "a table", f"none: {self.kind} has no spectrum")
        parts = (
            ("wavelengths", self.wavelengths), ("band", self.band or None), ("counts", self.counts)
        )  # fmt: skip
        for name, table in parts:
            if self.spectrum is None and table is not None:
                yield Fault(name, "a table", "a [spectrum] that it is of")
        if self.spectrum is not None and self.wavelengths is None:
            yield Fault("wavelengths", "nothing", "a table: a spectrum without them is none")

    @rule
    def counts_become_percent(self) -> Iterator[Fault]:
        if self.counts is not None and self.unit != "percent":
            wanted = "percent, which counts become by dark and open beam"
            yield Fault("unit", show(self.unit), wanted)

    @rule
    def bands_have_names_of_their_own(self) -> Iterator[Fault]:
        seen: dict[str, int] = {}
        for index, band in sound(self.band, "from_nm", "to_nm", "name"):
            if seen.setdefault(band.called, index) != index:
                yield Fault(f"band[{index}]", show(band.called), "a name that no other band has")

    @rule
    def every_value_has_a_channel_of_the_kind(self) -> Iterator[Fault]:
        allowed = {
            Quantity.GLOSS: [str(angle) for angle in ANGLES],
            Quantity.FORCE: [""],
            Quantity.TRANSMITTANCE: None,
        }[self.kind]
        told = either(self.channels, "and") if self.channels else "nothing"
        for token, channel in self.channels.items():
            if allowed is not None and channel not in allowed:
                yield Fault(
                    f"channels.{token}", show(channel), f"{either(allowed)} for {self.kind}"
                )
        for index, answer in sound(self.answer, "pattern"):
            for group in sorted(answer.groups):
                token = group.removeprefix(VALUE_AT) if group.startswith(VALUE_AT) else ""
                if group.startswith(VALUE_AT) and token not in self.channels:
                    wanted = f"{show(token)}, which the group {group} of answer[{index}] has"
                    yield Fault("channels", told, wanted)
        plain = any(VALUE in answer.groups for _, answer in sound(self.answer, "pattern"))
        if plain and self.kind is not Quantity.FORCE and "" not in self.channels:
            yield Fault(
                "channels",
                told,
                'an entry "" = ... for the group (?P<value>...)',
            )

    @property
    def is_counted(self) -> bool:
        """Whether the results bear the device's count of presses."""
        groups = [a.groups for a in self.answer if a.means == "reading"]
        if self.spectrum is not None:
            groups.append(frozenset(compiled(self.spectrum.head).groupindex))
        return bool(groups) and all("count" in group for group in groups)
