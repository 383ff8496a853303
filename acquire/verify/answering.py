"""Asks the program's own calculations for what a case expects.

`answer_of` asks in this process. Run as a program this module answers one task after another and
notes each answer at once, so that a task that hangs or ends it costs no other (`apart`).
"""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Callable, Mapping
from dataclasses import asdict
from dis import opmap
from typing import Any

import numpy as np

from acquire.errors import CoatbenchError, told
from acquire.verify.calcs import CALCS
from acquire.verify.sorts import no_figures, unusual
from acquire.verify.task import ASKED, WORDS, Answer, Task, Watched

Calculation = Callable[[Mapping[str, Any]], Mapping[str, Any]]
_RAISE = opmap["RAISE_VARARGS"]
_LIBRARIES = ("numpy", "scipy", "uncertainties", "pint")
MOST_MEMORY_BYTES = 4 << 30
"""More than any case needs, and what a bench that records meanwhile can spare."""


def answer_of(task: Task, calcs: Mapping[str, Calculation] = CALCS) -> Answer:
    """The answer. A calculation that raises has none for these inputs; that is no crash."""
    calc = calcs.get(task.calc)
    if calc is None:
        return Answer(why="no calculation has this name", is_known=False)
    inputs = Watched(task.inputs)
    try:
        values = {str(key): _plain(value) for key, value in calc(inputs).items()}
    except Exception as error:  # inputs are anybody's
        return Answer(why=_no_figures(task, inputs) or _why(error, task))
    if words := _no_figures(task, inputs):
        return Answer(why=words)
    return Answer(values, unread=inputs.unread)


def _no_figures(task: Task, inputs: Watched) -> str:
    return no_figures(task.calc, task.inputs, set(task.inputs) - set(inputs.unread))


def _plain(value: Any) -> Any:
    """As JSON would give it back: what is compared must not depend on where it was computed."""
    if isinstance(value, np.ndarray | np.generic):
        return _plain(value.tolist())
    if isinstance(value, list | tuple):
        return [_plain(one) for one in value]
    if value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(value, str):
        return str(value)
    raise TypeError(f"an answer of type {type(value).__name__}, which no case can expect")


def _why(error: Exception, task: Task) -> str:
    match error:
        case KeyError(args=(str(key),)) if key not in task.inputs:
            return f"an input {key!r} is needed and not there"
        case MemoryError():
            return "the inputs need more memory than there is"
        case CoatbenchError():
            return told(error)
    # What it stumbled over is mostly not what is wrong.
    if words := unusual(task.calc, task.inputs):
        return words
    return str(error.args[0]) if _says_words(error) else _no_words(error, task)


def _says_words(error: Exception) -> bool:
    """Whether a calculation refused in words for a reader, and no library or operator stumbled."""
    last = error.__traceback__
    while last is not None and last.tb_next is not None:
        last = last.tb_next
    if last is None or not (error.args and isinstance(error.args[0], str)):
        return False
    frame = last.tb_frame
    is_raised = frame.f_code.co_code[last.tb_lasti] == _RAISE
    is_foreign = frame.f_globals.get("__name__", "").partition(".")[0] in _LIBRARIES
    return isinstance(error, ValueError | TypeError) and is_raised and not is_foreign


def _no_words(error: Exception, task: Task) -> str:
    named = ", ".join(name for name in task.inputs if name not in (ASKED, WORDS))
    why = (
        f"{error}"
        if isinstance(error, ArithmeticError)
        else f"look for a figure out of its range, or lists of unlike length ({_name(error)})"
    )
    return f"the calculation cannot be done with these inputs ({named}): {why}"


def _name(error: Exception) -> str:
    """What tells one fault from another, for who looks into the program."""
    return type(error).__name__


def main() -> None:
    """The first argument is the file for the answers; tasks come on standard input, a JSON list."""
    _bound_memory()
    with open(sys.argv[1], "w", encoding="utf-8") as book:
        # Those who wait know by this line that whatever takes long is a task.
        print("{}", file=book, flush=True)
        for calc, inputs in json.load(sys.stdin):
            answer = answer_of(Task(calc, inputs))
            print(json.dumps(asdict(answer)), file=book, flush=True)


def _bound_memory() -> None:
    try:
        import resource  # noqa: PLC0415 - not everywhere
    except ImportError:
        return
    with contextlib.suppress(OSError, ValueError):
        _, most = resource.getrlimit(resource.RLIMIT_AS)
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY_BYTES, most))


if __name__ == "__main__":
    main()
