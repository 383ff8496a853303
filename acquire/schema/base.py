"""A strict table of a settings file, and the reader that tells all its faults at once.

A `Schema` says what one table may hold. `read` gives the finished model or one `SettingsError`
with every fault. What needs more than one field is written as a `rule`: a method that yields any
number of faults. Rules run on broken files too, since one typo must not hide the missing control
two tables further on: a field with a fault is left out of the model, touching it raises `Unsound`,
and the rule that did so gives up quietly (its ground has been told as a fault already). To go on
with the sound entries of a list a rule asks `sound(entries, "field", ...)`.

Field validators and model validators of pydantic are refused in a Schema: they would meet the
holes. A check of one value belongs to its type (``Annotated[str, AfterValidator(...)]``, whose
ValueError says in plain words what is wanted); a check of several values is a rule.

Never reads a file, never changes a table it is given. Any thread.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from functools import cache
from types import FunctionType
from typing import TYPE_CHECKING, Any, Generic, NamedTuple, Self, TypeVar, cast

from pydantic import (
    BaseModel,
    ConfigDict,
    ModelWrapValidatorHandler,
    PrivateAttr,
    ValidationError,
    ValidationInfo,
    ValidatorFunctionWrapHandler,
    field_validator,
    model_validator,
)

from acquire.errors import Fault, SettingsError
from acquire.schema.order import FileOrder
from acquire.schema.words import Place, dotted, faults_of_field, missing, nearest, show, unknown_key

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

S = TypeVar("S", bound="Schema")

_SURVEYING = object()
"""The pydantic context under which models keep their holes; outside of `survey` they are plain."""

_ABSENT = object()
"""Stands for a key that has to be there and is not, so that the field's own validator sees it."""

MOST_UNKNOWN = 50
"""Unknown keys of one table that are told one by one: more are no typing errors."""

MOST_FAULTS = 200
"""Faults of one table and all below it that are told one by one."""

_STEP = re.compile(r"\[(\d+)\]|([^.\[\]]+)")


class Unsound(Exception):
    """A rule touched a field that has a fault of its own."""


class _Hole(NamedTuple):
    """What a field holds between its failed validation and its removal from the model."""

    absent: bool
    errors: list[ErrorDetails]


class _Amiss(NamedTuple):
    """What is wrong with a table itself; `instead` is what stands in its place, if it is none."""

    holes: dict[str, _Hole]
    unknown: tuple[str, ...]
    is_table: bool = True
    instead: object = None


class Schema(BaseModel):
    """Base of every table: strict types, frozen, unknown keys are faults."""

    model_config = ConfigDict(
        strict=True,
        frozen=True,
        extra="forbid",
        allow_inf_nan=False,
        regex_engine="python-re",
    )

    _amiss: _Amiss | None = PrivateAttr(default=None)

    @classmethod
    def __pydantic_init_subclass__(cls, **kwargs: Any) -> None:
        super().__pydantic_init_subclass__(**kwargs)
        found = cls.__pydantic_decorators__
        own = [*found.field_validators, *found.model_validators, *found.validators]
        if foreign := [name for name in own if name not in ("_hold", "_keep")]:
            raise TypeError(
                f"{cls.__name__}.{foreign[0]} is a pydantic validator; put a check of one value in "
                "its type (Annotated[..., AfterValidator(...)]) and a check of several in a @rule"
            )

    @field_validator("*", mode="wrap")
    @classmethod
    def _hold(
        cls, value: object, handler: ValidatorFunctionWrapHandler, info: ValidationInfo
    ) -> object:
        if info.context is not _SURVEYING:
            return handler(value)
        if value is _ABSENT:
            return _Hole(True, [])
        try:
            return handler(value)
        except ValidationError as trouble:
            return _Hole(False, trouble.errors(include_url=False))

    @model_validator(mode="wrap")
    @classmethod
    def _keep(
        cls, table: object, handler: ModelWrapValidatorHandler[Self], info: ValidationInfo
    ) -> Self:
        if info.context is not _SURVEYING:
            return handler(table)
        if not isinstance(table, dict):
            model = cast("Self", cls.model_construct())
            model.__dict__.clear()
            model._amiss = _Amiss({}, (), is_table=False, instead=table)
            return model
        names, required = _keys(cls)
        known = {key: value for key, value in table.items() if key in names}
        for key in required:
            known.setdefault(key, _ABSENT)
        model = handler(known)
        holes = {name: value for name, value in model.__dict__.items() if isinstance(value, _Hole)}
        unknown = tuple(key for key in table if key not in names)
        if not holes and not unknown:
            return model
        for name in holes:
            del model.__dict__[name]
        for key in unknown[:MOST_UNKNOWN]:
            # `contrl = true` was to set control: one fault, and no word on what its absence or its
            # default would break.
            if (meant := nearest(key, names)) is not None and meant not in table:
                model.__dict__.pop(names[meant], None)
                holes.pop(names[meant], None)
        model._amiss = _Amiss(holes, unknown)
        return model

    # Hidden from the type checker, which would take it as leave to read any attribute.
    if not TYPE_CHECKING:

        def __getattr__(self, name: str) -> object:
            if not name.startswith("_") and name in type(self).model_fields:
                raise Unsound(name)
            return super().__getattr__(name)


Rule = Callable[[S], Iterator[Fault]]


def rule(check: Rule[S]) -> Rule[S]:
    """Mark a method of a Schema as a check of several fields; it yields every fault it finds.

    A fault's path is relative to the table: ``zone[2].treatment``, or empty for the table itself.
    """
    check.__is_rule__ = True  # type: ignore[attr-defined]
    return check


def sound(entries: Sequence[S], *fields: str) -> Iterator[tuple[int, S]]:
    """The entries, with their index, in which all the named fields are without a fault."""
    for index, entry in enumerate(entries):
        if all(field in entry.__dict__ for field in fields):
            yield index, entry


def is_whole(model: Schema) -> bool:
    """Whether a table of a survey has no fault, neither in itself nor in a table below it."""
    return next(_walk(model, type(model), ()), None) is None


class Survey(NamedTuple, Generic[S]):
    """A model that may have holes, and every fault of its table in the order of the file."""

    model: S
    faults: list[Fault]


def survey(schema: type[S], table: Mapping[str, object], prefix: str = "") -> Survey[S]:
    """Look a table through without raising; the model may be used in full if there is no fault.

    Where there are faults, touching a field that has one raises `Unsound`.
    """
    model = schema.model_validate(
        dict(table) if isinstance(table, Mapping) else table, context=_SURVEYING
    )
    found = list(_walk(model, schema, ()))
    order = FileOrder(table)
    found.sort(key=lambda fault: order.rank(fault[0]))
    faults = [
        Fault(_prefixed(prefix, dotted(at)), got, wanted) for at, got, wanted in found[:MOST_FAULTS]
    ]
    if len(found) > MOST_FAULTS:
        more = f"{len(found) - MOST_FAULTS} more faults"
        faults.append(Fault(_prefixed(prefix, ""), more, "none; mend those above first"))
    return Survey(model, faults)


def read(
    schema: type[S],
    table: Mapping[str, object],
    source: str,
    prefix: str = "",
    *,
    next_step: str = "",
) -> S:
    """The model of a table.

    `source` names the file in the message, `prefix` goes before every path, `next_step` is what
    the person should do (by default mend the source). Raises `SettingsError` with all faults of
    the table, those of its rules among them.
    """
    model, faults = survey(schema, table, prefix)
    if faults:
        raise SettingsError(source, faults, next_step=next_step)
    return model


def in_file_order(faults: Iterable[Fault], table: Mapping[str, object]) -> list[Fault]:
    """Faults of a table in the order of its file; those whose path is not of it come last."""
    order = FileOrder(table)
    return sorted(faults, key=lambda fault: order.rank(_steps(fault.path)))


def _walk(
    model: Schema, root: type[Schema], at: Place, words: str | None = None
) -> Iterator[tuple[Place, str, str]]:
    """`words` are those of its field for what should stand in the place of no table."""
    cls = type(model)
    if (amiss := model._amiss) is not None:
        if not amiss.is_table:
            yield at, show(amiss.instead), words or "a table"
            return
        yield from _of_itself(amiss, cls, root, at)
    for name, value in model.__dict__.items():
        field = cls.model_fields[name]
        if isinstance(value, Schema):
            yield from _walk(value, root, (*at, field.alias or name), field.description)
        elif isinstance(value, _DEEP):
            yield from _descend(value, root, (*at, field.alias or name))
    for check in _rules(cls):
        try:
            for path, got, wanted in check(model):
                yield (*at, *_steps(path)), got, wanted
        except Unsound:
            continue


def _of_itself(
    amiss: _Amiss, cls: type[Schema], root: type[Schema], at: Place
) -> Iterator[tuple[Place, str, str]]:
    for key in amiss.unknown[:MOST_UNKNOWN]:
        yield (*at, key), "an unknown key", unknown_key(key, cls, root)
    if (more := len(amiss.unknown) - MOST_UNKNOWN) > 0:
        yield at, f"{more} more unknown keys", "none"
    for name, hole in amiss.holes.items():
        field = cls.model_fields[name]
        key = field.alias or name
        if hole.absent:
            yield (*at, key), "nothing", missing(key, field)
        else:
            for inner, got, wanted in faults_of_field(field, hole.errors):
                yield (*at, key, *inner), got, wanted


def _descend(value: object, root: type[Schema], at: Place) -> Iterator[tuple[Place, str, str]]:
    if isinstance(value, Schema):
        yield from _walk(value, root, at)
    elif isinstance(value, list | tuple):
        for index, entry in enumerate(value):
            yield from _descend(entry, root, (*at, index))
    elif isinstance(value, dict):
        for key, entry in value.items():
            yield from _descend(entry, root, (*at, str(key)))


_DEEP = (Schema, list, tuple, dict)
"""What may have a table within."""


@cache
def _keys(cls: type[Schema]) -> tuple[dict[str, str], tuple[str, ...]]:
    """The keys of a table with the names of their fields, and those that have to be there."""
    fields = {field.alias or name: (name, field) for name, field in cls.model_fields.items()}
    return (
        {key: name for key, (name, _) in fields.items()},
        tuple(key for key, (_, field) in fields.items() if field.is_required()),
    )


@cache
def _rules(cls: type[Schema]) -> Collection[Callable[[Schema], Iterator[Fault]]]:
    seen: dict[str, Callable[[Schema], Iterator[Fault]]] = {}
    for ancestor in reversed(cls.__mro__):
        for name, attribute in vars(ancestor).items():
            if isinstance(attribute, FunctionType) and hasattr(attribute, "__is_rule__"):
                seen[name] = attribute
    return tuple(seen.values())


def _steps(path: str) -> Place:
    return tuple(int(index) if index else key for index, key in _STEP.findall(path))


def _prefixed(prefix: str, path: str) -> str:
    if not prefix or not path:
        return prefix.rstrip(": ") or path or "file"
    return f"{prefix}{path}" if prefix.endswith((" ", ".")) else f"{prefix}.{path}"
