"""Files a person writes: TOML text to a table, a table to a frozen model, every fault at once.

Used by the settings of the bench and by drivers for their profiles. Reads the one file it is
given and nothing else; keeps no state; any thread.
"""

from acquire.schema.base import (
    Schema,
    Survey,
    Unsound,
    in_file_order,
    is_whole,
    read,
    rule,
    sound,
    survey,
)
from acquire.schema.number import Number
from acquire.schema.text import Id, Name, unlike_id
from acquire.schema.tomlfile import load_text, load_toml, parse_toml
from acquire.schema.words import either, show

__all__ = [
    "Id",
    "Name",
    "Number",
    "Schema",
    "Survey",
    "Unsound",
    "either",
    "in_file_order",
    "is_whole",
    "load_text",
    "load_toml",
    "parse_toml",
    "read",
    "rule",
    "show",
    "sound",
    "survey",
    "unlike_id",
]
