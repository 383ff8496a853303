"""The table of one kind of frame: how it is known and what stands where in it.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field

from acquire.driverkit import Means
from acquire.errors import Fault
from acquire.schema import Schema, either, rule, show
from drivers.frame.fields import FrameBytes, WholeFrame
from drivers.frame.number import WHOLE, Sign
from drivers.frame.parts import (
    ConditionTable,
    CopyTable,
    NumberTable,
    OneOfTable,
    Span,
    StatusTable,
    ValueTable,
)

_NEEDED = {Means.READING: "value", Means.IDENTITY: "serial"}
_ALLOWED = {
    Means.READING: {"value", "count", "serial", "status"},
    Means.IDENTITY: {"serial"},
    Means.POWER_UP: {"serial"},
    Means.ADJUSTED: {"count"},
    Means.TROUBLE: {"code", "count"},
    Means.NOTHING: set(),
}


class MessageTable(Schema):
    means: Annotated[Means, Field(strict=False)]
    bytes_: Annotated[FrameBytes | None, Field(alias="bytes")] = None
    where: Annotated[list[ConditionTable], Field(max_length=40)] = Field(default_factory=list)
    copies: Annotated[list[CopyTable], Field(max_length=16)] = Field(default_factory=list)
    one_of: Annotated[list[OneOfTable], Field(max_length=64)] = Field(default_factory=list)
    example: WholeFrame | None = None
    count: NumberTable | None = None
    serial: NumberTable | None = None
    code: NumberTable | None = None
    status: Annotated[list[StatusTable], Field(max_length=16)] = Field(default_factory=list)
    value: Annotated[list[ValueTable], Field(max_length=16)] = Field(default_factory=list)

    @rule
    def parts_are_those_of_the_meaning(self) -> Iterator[Fault]:
        if self.means not in _ALLOWED:
            yield Fault("means", show(self.means.value), either(list(_ALLOWED)))
            return
        needed, allowed = _NEEDED.get(self.means), _ALLOWED[self.means]
        for name in ("count", "serial", "code", "status", "value"):
            part = getattr(self, name)
            if part and name not in allowed:
                wanted = f"only {either(sorted(allowed), 'and')}" if allowed else "no part"
                yield Fault(name, "a table", f"{wanted} in {self.means}")
            if not part and name == needed:
                yield Fault(name, "nothing", f"where the {name} of this {self.means} stands")

    @rule
    def a_count_is_a_whole_number(self) -> Iterator[Fault]:
        if self.count is not None and self.count.type not in WHOLE:
            yield Fault("count.type", show(self.count.type), either(sorted(WHOLE)))
        if self.count is not None and self.count.sign is not Sign.NONE:
            yield Fault("count.sign", show(self.count.sign), "no sign")

    @rule
    def no_two_values_are_of_one_channel(self) -> Iterator[Fault]:
        seen: set[str | None] = set()
        for index, value in enumerate(self.value):
            key, channel = value.channel
            if key.endswith("_at"):
                continue
            if channel in seen:
                got = "no geometry or band" if channel is None else show(channel)
                wanted = "one that no other value of the frame has"
                yield Fault(f"value[{index}]{key and '.'}{key}", got, wanted)
            seen.add(channel)

    def spans(self) -> Iterator[Span]:
        """Every part of the frame that the message speaks of."""
        for index, condition in enumerate(self.where):
            yield (f"where[{index}]", *condition.span[1:])
        for index, choice in enumerate(self.one_of):
            yield (f"one_of[{index}]", *choice.span[1:])
        for index, copy in enumerate(self.copies):
            for path, first, size in copy.spans:
                yield (f"copies[{index}].{path}", first, size)
        for name in ("count", "serial", "code"):
            part = getattr(self, name)
            if part is not None:
                yield (name, *part.span[1:])
        for index, status in enumerate(self.status):
            yield (f"status[{index}]", *status.span[1:])
        for index, value in enumerate(self.value):
            for path, first, size in value.spans():
                yield (f"value[{index}].{path}" if path else f"value[{index}]", first, size)
