"""The calls of scorecards and past results: schemas of their arguments, the acts they become.

`acquire.control.calls` has them in its table.
"""

from __future__ import annotations

import base64
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import AfterValidator, Field

from acquire.control.arguments import Word, whole
from acquire.errors import Misuse
from acquire.pipeline.acts import Acts
from acquire.pipeline.recorder import Act
from acquire.schema import Schema
from acquire.settings.mapping import parse_mapping
from acquire.settings.scorecard import parse_scorecard
from acquire.trial.past import past_results


class KeepScore(Schema):
    text: Annotated[str, Field(max_length=1_000_000), AfterValidator(whole)]
    source: Annotated[str, Field(max_length=4096), AfterValidator(whole)]
    trial: Word
    edition: Word
    rests_on: Annotated[str, Field(max_length=100_000), AfterValidator(whole)]
    points: Annotated[str, Field(max_length=1_000_000), AfterValidator(whole)]


class ImportPast(Schema):
    file: Word
    content: Annotated[str, Field(max_length=3_000_000), AfterValidator(whole)]
    mapping: Annotated[str, Field(max_length=200_000), AfterValidator(whole)]


def keep_score(acts: Acts, call: KeepScore) -> Act:
    """Points and the scorecard that they were reckoned by."""
    card = parse_scorecard(call.text, call.source)
    return lambda at: acts.scores.keep(
        card, call.trial, call.edition, call.rests_on, call.points, at
    )


def import_past(acts: Acts, call: ImportPast) -> Act:
    """The figures are read from the bytes here, so that none is kept that the file does not say."""
    try:
        data = base64.b64decode(call.content, validate=True)
    except ValueError:
        raise Misuse(
            "import_past has one fault",
            got="a content that is no base64",
            wanted="the bytes of the file in base64",
            next_step="give what is wanted and try again",
        ) from None
    results = past_results(data, parse_mapping(call.mapping, "the mapping"), call.file)
    return lambda at: acts.scores.import_past(call.file, data, call.mapping, results, at)


CALLS: dict[str, tuple[type[Schema], Callable[[Acts, Any], Act]]] = {
    "keep_score": (KeepScore, keep_score),
    "import_past": (ImportPast, import_past),
}
