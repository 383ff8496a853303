"""What a fault says: the value that was got, shortened and harmless, and what is wanted in words.

The words are our own and plain, whatever the validating library calls its errors. Never raises,
whatever the value. Any thread.
"""

from __future__ import annotations

import difflib
import re
import types
from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, time
from decimal import Decimal
from enum import Enum
from typing import TYPE_CHECKING, Annotated, Any, Literal, Union, get_args, get_origin

import annotated_types as limits
from pydantic import BaseModel
from pydantic.fields import FieldInfo

from acquire.schema.number import LARGEST, NotThis

if TYPE_CHECKING:
    from pydantic_core import ErrorDetails

Place = tuple[str | int, ...]

LONGEST_SHOWN = 60
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]{1,64}")
_LONGEST_INT_BITS = 128
"""A longer one is not worth reading, and Python refuses to print the longest."""


def show(value: object) -> str:
    """A value as a person may see it: at most about 60 characters, control characters escaped."""
    match value:
        case None:
            return "nothing"
        case bool():
            return "true" if value else "false"
        case Enum():
            return show(value.value)
        case str():
            return _shortened(repr(value[: LONGEST_SHOWN + 1]))
        case int():
            if value.bit_length() > _LONGEST_INT_BITS:
                return f"a whole number of {value.bit_length()} bits"
            return str(value)
        case float() | Decimal():
            return _shortened(str(value))
        case date() | datetime() | time():
            return value.isoformat()
        case Mapping():
            return "a table" if value else "an empty table"
        case list() | tuple():
            return _show_list(value)
    return _shortened(f"a {type(value).__name__}")


def _show_list(entries: list[Any] | tuple[Any, ...]) -> str:
    if not entries:
        return "an empty list"
    count = f"a list of {len(entries)} {'entry' if len(entries) == 1 else 'entries'}"
    if len(entries) > LONGEST_SHOWN or any(isinstance(e, Mapping | list | tuple) for e in entries):
        return count
    whole = "[" + ", ".join(show(entry) for entry in entries) + "]"
    return whole if len(whole) <= LONGEST_SHOWN else count


def _shortened(text: str) -> str:
    return text if len(text) <= LONGEST_SHOWN else f"{text[: LONGEST_SHOWN - 4]}...{text[-1]}"


def either(choices: Iterable[object], last: str = "or") -> str:
    """A list in words: ``'a', 'b' or 'c'``; nothing, where there is none."""
    shown = [show(choice) for choice in choices]
    if not shown:
        return show(None)
    *first, final = shown
    return f"{', '.join(first)} {last} {final}" if first else final


def dotted(at: Place) -> str:
    """A place in a file: ``zone[2].id``; keys that are no bare TOML keys in quotes."""
    text = ""
    for step in at:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            key = step if _BARE_KEY.fullmatch(step) else show(step)
            text += f".{key}" if text else key
    return text


def missing(key: str, field: FieldInfo) -> str:
    """What is wanted of a key that is not there."""
    inner = _without_none(field.annotation)
    if field.description is None:
        if _schema(inner) is not None:
            return f"a [{key}] table"
        if get_origin(inner) is list and any(_schema(a) for a in get_args(inner)):
            return f"one or more [[{key}]] tables"
    return _words(field.annotation, field.metadata, field.description)


def unknown_key(key: str, here: type[BaseModel], root: type[BaseModel]) -> str:
    """Where a key that is not known here may have been meant to go."""
    known = [field.alias or name for name, field in here.model_fields.items()]
    homes = dict.fromkeys(home for home, name in _homes(root) if name == key)
    its_home = "it " + " or ".join(homes) if 0 < len(homes) <= 3 else ""
    if (near := nearest(key, known)) is not None:
        # A key that is spelled as one of another table is the likelier one.
        return f"{its_home}; or {near} here" if its_home else f"{near} (the nearest key there is)"
    if its_home:
        return its_home
    return f"no other keys than {', '.join(known)}" if known else "no keys here"


def nearest(key: str, known: Iterable[str]) -> str | None:
    """The key a mistyped one was meant to be, if any looks like it."""
    return next(iter(difflib.get_close_matches(key, known, n=1, cutoff=0.7)), None)


def _homes(
    schema: type[BaseModel], home: str = "at the top, before any [table]", path: str = ""
) -> Iterator[tuple[str, str]]:
    """Every (home, key) of a schema and the tables below it."""
    for name, field in schema.model_fields.items():
        key = field.alias or name
        yield home, key
        below = f"{path}.{key}" if path else key
        if below.count(".") > 8:  # a schema that contains itself
            return
        inner = _without_none(field.annotation)
        if (single := _schema(inner)) is not None:
            yield from _homes(single, f"under [{below}]", below)
        for entry in get_args(inner):
            if (many := _schema(entry)) is not None:
                yield from _homes(many, f"under [[{below}]]", below)


def faults_of_field(
    field: FieldInfo, errors: Iterable[ErrorDetails]
) -> Iterator[tuple[Place, str, str]]:
    """(place below the field, got, wanted) for each way in which a field's value is wrong."""
    errors = list(errors)
    words = _words(field.annotation, field.metadata, field.description)
    if _is_union(field.annotation):
        # Each branch of a union complains for itself; the person wrote one value.
        value = errors[0]["input"] if not errors[0]["loc"] else None
        whole = next((e["input"] for e in errors if len(e["loc"]) <= 1), value)
        yield (), show(whole), words
        return
    for error in errors:
        at: Place = tuple(step for step in error["loc"] if step != "[key]")
        told = None if at else _of_number(error, field)
        told = told or (_of_error(error) if at or _own(error, field) else words)
        yield at, show(error["input"]), told


def _of_number(error: ErrorDetails, field: FieldInfo) -> str | None:
    """What is wanted of a number that is none, with the bounds that its field sets."""
    trouble = error.get("ctx", {}).get("error")
    if not isinstance(trouble, NotThis) or field.description is not None:
        return None
    metadata = list(_noted(field.annotation, field.metadata)[1])
    if not any(isinstance(one, limits.Gt | limits.Ge) for one in metadata):
        return None
    if str(trouble) != trouble.noun and not any(
        isinstance(one, limits.Lt | limits.Le) for one in metadata
    ):
        metadata.append(limits.Le(int(LARGEST)))
    return trouble.noun + _bounds(metadata)


def _own(error: ErrorDetails, field: FieldInfo) -> bool:
    """Whether the error says more than the words of its field."""
    if error["type"] == "value_error":
        return True
    return field.description is None and error["type"] in _SAY_MORE_THAN_THE_TYPE


_SAY_MORE_THAN_THE_TYPE = frozenset(
    ["string_too_short", "string_too_long", "string_pattern_mismatch", "too_short", "too_long"]
)
"""Errors that are told better by their own figures than by the words of the field."""

_OF_TYPE = {
    "string_type": "text in quotes",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "float_type": "a number",
    "float_parsing": "a number",
    "decimal_type": "a number",
    "decimal_parsing": "a number",
    "finite_number": "a finite number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
    "list_type": "a list",
    "tuple_type": "a list",
    "dict_type": "a table",
    "model_type": "a table",
    "date_type": "a date such as 2030-05-31",
    "date_parsing": "a date such as 2030-05-31",
    "missing": "a value",
}

_OF_LIMIT = {
    "greater_than": "more than {gt}",
    "greater_than_equal": "{ge} or more",
    "less_than": "less than {lt}",
    "less_than_equal": "{le} or less",
    "string_too_short": "text of {min_length} or more characters",
    "string_too_long": "text of {max_length} or fewer characters",
    "string_pattern_mismatch": "text of the form {pattern}",
    "too_short": "{min_length} or more entries",
    "too_long": "{max_length} or fewer entries",
    "enum": "{expected}",
    "literal_error": "{expected}",
}


def _of_error(error: ErrorDetails) -> str:
    kind = error["type"]
    context = error.get("ctx", {})
    if kind == "value_error":
        return str(context["error"])
    if kind in _OF_LIMIT:
        return _OF_LIMIT[kind].format(**context)
    return _OF_TYPE.get(kind, "a value of another form")


def _words(annotation: Any, metadata: Iterable[Any], description: str | None) -> str:
    inner, metadata, noted = _noted(annotation, metadata)
    description = description or noted
    if description is not None:
        return description
    origin = get_origin(inner)
    if origin is Literal:
        return either(get_args(inner))
    if _is_union(inner):
        return " or ".join(_words(branch, (), None) for branch in get_args(inner))
    named = inner if isinstance(inner, type) else origin if isinstance(origin, type) else object
    if issubclass(named, Enum):
        return either(named)
    for kind, word in _OF_KIND:
        if issubclass(named, kind):
            return word + (_bounds(metadata) if word.endswith("number") else "")
    return "a value of another form"


def _noted(annotation: Any, metadata: Iterable[Any]) -> tuple[Any, Iterable[Any], str | None]:
    """A type without what is noted beside it, its bounds, and the words for it if there are any."""
    inner = _without_none(annotation)
    if get_origin(inner) is not Annotated:
        return inner, metadata, None
    inner, *notes = get_args(inner)
    fields = [note for note in notes if isinstance(note, FieldInfo)]
    bounds = [limit for field in fields for limit in field.metadata] or notes
    return inner, bounds, next((f.description for f in fields), None)


_OF_KIND: tuple[tuple[type, str], ...] = (
    (bool, "true or false"),
    (str, "text in quotes"),
    (int, "a whole number"),
    (float, "a number"),
    (Decimal, "a number"),
    (date, "a date such as 2030-05-31"),
    (Mapping, "a table"),
    (BaseModel, "a table"),
    (list, "a list"),
    (tuple, "a list"),
    (frozenset, "a list"),
)


def _bounds(metadata: Iterable[Any]) -> str:
    low = high = ""
    for limit in metadata:
        match limit:
            case limits.Ge(ge=least):
                low = f"{least} or more"
                least_shown = str(least)
            case limits.Gt(gt=below):
                low = f"more than {below}"
                least_shown = ""
            case limits.Le(le=most):
                high = f"{most}"
            case limits.Lt(lt=above):
                high = f"less than {above}"
    if low and high and not high.startswith("less") and low.endswith("more"):
        return f" from {least_shown} to {high}"
    if low and high:
        return f", {low} and {high if high.startswith('less') else f'at most {high}'}"
    if low:
        return f", {low}"
    return f", {high if high.startswith('less') else f'{high} or less'}" if high else ""


def _without_none(annotation: Any) -> Any:
    if get_origin(annotation) in (Union, types.UnionType):
        branches = [a for a in get_args(annotation) if a is not type(None)]
        if len(branches) == 1:
            return _without_none(branches[0])
    return annotation


def _is_union(annotation: Any) -> bool:
    return get_origin(_without_none(annotation)) in (Union, types.UnionType)


def _schema(annotation: Any) -> type[BaseModel] | None:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    return None
