"""Something to ask by every control call, sensible and hostile, and the bare wire to ask it on."""

from __future__ import annotations

import contextlib
import hashlib
import json
import random
import socket
from collections.abc import Callable, Mapping
from typing import Any

from acquire.control.door import Door
from acquire.control.lines import Lines
from tests.patience import PATIENCE_S
from tests.scorecard import CARD
from tests.yard import TRIAL

ANSWER_S = PATIENCE_S
WIDE = TRIAL.replace("replicates = 2", "replicates = 60")
INSTRUMENTS = ("hand", "hand", "hand", "meter-0", "nobody", "")

# The same trial and another one, with what might open the gate.
PLANS = (
    WIDE,
    WIDE,
    WIDE.replace('id = "gelcoat"', 'id = "gelcoat"\nunchecked = true'),
    WIDE.replace('id = "gelcoat"', 'id = "free"\nunchecked = true'),
    WIDE.replace("control = true", "control = false"),
    WIDE.replace("replicates = 60", "replicates = 9999999"),
    WIDE.replace("geometry = 20", "geometry = 85"),
    "[trial]",
    "",
)

Arguments = dict[str, object]
Make = Callable[[random.Random], Arguments]


def _instrument(chance: random.Random) -> Arguments:
    return {"instrument": chance.choice(INSTRUMENTS)}


def _nothing(_: random.Random) -> Arguments:
    return {}


MAPPING = """trial = { column = "test" }
treatment = { column = "product" }
[[figure]]
name = "Gloss"
quantity = "gloss"
geometry = 20
unit = "gloss_unit"
value_column = "GU"
"""


def points_of(trial: str) -> str:
    """Points that name their trial and scorecard, and are of nobody."""
    digest = hashlib.sha256(CARD.encode()).hexdigest()
    return json.dumps({"trial": trial, "scorecard": "yard", "version": 1, "digest": digest})


SENSIBLE: dict[str, Make] = {
    "begin_check": _instrument,
    "readjusted": _instrument,
    "climate": lambda c: {"temperature_c": c.choice((21, 21.4, 35)), "humidity_percent": 50},
    "trust_clock": lambda c: {
        "shown_utc_ns": c.choice((0, 1_780_000_000 * 10**9, 2**61)),
        "reason": c.choice(("radio clock", "")),
    },
    "insist_piece": lambda c: {"piece": c.choice(("T1", "T2", "Z0", "x")), **_instrument(c)},
    "abandon_check": _instrument,
    "begin_run": lambda c: {
        "text": c.choice(PLANS), "source": "trial.toml", "stage": c.choice(("bare", "cured", "x")),
        **_instrument(c),
    },
    "keep_trial": lambda c: {
        "text": c.choice(PLANS), "source": "trial.toml", "key": c.choice(("", "{}")),
    },
    "show_key": lambda c: {"trial": c.choice(("gelcoat", "free")), "who": c.choice(("Ada", ""))},
    "unseal": lambda c: {"trial": c.choice(("gelcoat", "free")), "who": "Ada", "why": "done"},
    "close_trial": lambda c: {"trial": c.choice(("gelcoat", "free", "x")), "why": "done"},
    "reopen_trial": lambda c: {"trial": c.choice(("gelcoat", "free"))},
    "give_up_stage": lambda c: {
        "trial": c.choice(("gelcoat", "x")), "stage": c.choice(("bare", "cured", "x")),
        "zones": c.choice(([], ["A1"], ["Z9"])), "why": c.choice(("rain", "")),
    },
    "take_back_stage": lambda c: {"trial": "gelcoat", "stage": "cured", "why": "dry again"},
    "keep_score": lambda c: {
        "text": c.choice((CARD, CARD.replace("points = 2", "points = 3"), "")), "source": "card",
        "trial": c.choice(("gelcoat", "x")), "edition": "1", "rests_on": "{}",
        "points": c.choice(("{}", points_of("gelcoat"), points_of("x"))),
    },
    "import_past": lambda c: {
        "file": "past.csv", "content": c.choice(("dGVzdCxwcm9kdWN0LEdVCmEsYiwxMgo=", "?", "")),
        "mapping": c.choice((MAPPING, "")),
    },
    "to_wash": lambda c: {"trial": c.choice(("gelcoat", "x")), "zones": []},
    "wash": lambda c: {
        "trial": c.choice(("gelcoat", "x")), "zones": c.choice(([], ["A1"], ["Z9"])),
        "washes": c.choice((1, 5)), "by_key": True,
    },
    "count_washes": lambda c: {
        "trial": c.choice(("gelcoat", "x")), "zones": [], "counter": c.choice(("hub", "shore")),
    },
    "stop_counting": lambda c: {"counter": c.choice(("hub", "shore"))},
    "correct_washes": lambda c: {
        "trial": "gelcoat", "zones": ["A1"], "washes": c.choice((-1, 1)), "reason": "pressed twice",
    },
    "apply": lambda c: {
        "trial": "gelcoat", "zones": c.choice((["A1"], ["A2"], [])), "treatment": "brine",
        "amount": "4 ml", "haze_minutes": 3,
    },
    "take_back_application": lambda c: {
        "trial": c.choice(("gelcoat", "x")), "applications": c.choice(([1], [2, 9], [])),
        "reason": c.choice(("wrong zone", "")),
    },
    "rate": lambda c: {
        "trial": "gelcoat", "scale": "water", "stage": "cured", "zone": "A1", "rater": "Ada",
        "step": c.choice((1, 9)),
    },
    "photo": lambda c: {
        "trial": c.choice(("gelcoat", "x")), "zone": "A1", "path": "a1.jpg", "sha256": "0" * 64,
        "size_bytes": 1,
    },
    "resume_run": _nothing,
    "skip": _nothing,
    "back": _nothing,
    "go_to": lambda c: {"zone": c.choice(("A1", "A2", "Z9"))},
    "targets": lambda c: c.choice(({}, {"trial": "gelcoat"}, {"trial": "x", "stage": "bare"})),
    "finish_run": lambda c: c.choice(({}, {"why": "the light went"})),
    "void": lambda c: {"reading_id": c.randint(1, 60), "reason": c.choice(("slipped", " "))},
    "assign": lambda c: {
        "reading_id": c.randint(1, 60), "trial": c.choice(("gelcoat", "gelcoat", "free")),
        "zone": c.choice(("A1", "A2")), "stage": c.choice(("bare", "cured")),
        "replicate": c.randint(1, 60), "reason": "forgotten",
    },
    "note": lambda c: {"text": c.choice(("sun came round", "")), "trial": c.choice(("", "x"))},
    "clap": lambda c: {"trial": c.choice(("", "gelcoat", "x"))},
    "close_sitting": _nothing,
    "status": _nothing,
    "take": _instrument,
    "type": lambda c: {
        "instrument": "hand", "text": c.choice(("80.1", "91.4", "off", "adjusted", "OL", "nine")),
    },
    "stop": _nothing,
    "watch": _nothing,
    "hello": _nothing,
}  # fmt: skip
"""By call: what a person's program would give. A call without an entry is not attacked."""

_NAMES = (
    "instrument", "text", "source", "measure", "stage", "zone", "replicate", "reading_id",
    "reason", "trial", "why", "temperature_c", "humidity_percent", "unchecked", "force",
    "check_id", "role", "at", "token",
)  # fmt: skip
_VALUES: tuple[object, ...] = (
    None, True, False, -1, 0, 1, 2**53, 2**70, -(2**63), 1e308, "1e999", "nan", "", " ", "hand",
    "meter-0", "gelcoat", "bare", "A1", "x" * 5000, "\x00\x1b[2J", "\ud800", "../other.sqlite",
    "'; DROP TRIGGER reading_needs_a_pass; --", [], [[[]]], {}, {"a": {"b": 1}}, WIDE,
)  # fmt: skip


def hostile(chance: random.Random, name: str) -> Arguments:
    """Arguments that nobody should give: some of a sensible call spoiled, and some made up."""
    arguments = SENSIBLE[name](chance)
    for key in list(arguments):
        if chance.random() < 0.5:
            arguments[key] = chance.choice(_VALUES)
    for _ in range(chance.randint(0 if arguments else 1, 3)):
        arguments[chance.choice(_NAMES)] = chance.choice(_VALUES)
    return arguments


def ask(door: Door, token: object, name: object, arguments: object) -> dict[str, Any] | None:
    """What the daemon answers on a line of its own; None where it hung up without a word."""
    with socket.create_connection((door.host, door.port), ANSWER_S) as sock:
        lines = Lines(sock)
        told: dict[str, object] = {"call": name, "arguments": arguments}
        if token is not None:
            told["token"] = token
        with contextlib.suppress(BrokenPipeError, ConnectionResetError):
            lines.send(told)
            return lines.receive()
    return None


def fault_of(answer: Mapping[str, Any] | None, name: str) -> str:
    """What is wrong with an answer: a refusal has its parts, and no call fails by our fault."""
    if answer is None:
        return f"{name}: hung up without an answer"
    if answer.get("ok") is True:
        return "" if isinstance(answer.get("reply"), dict) else f"{name}: no reply in {answer}"
    error = answer.get("error")
    if not isinstance(error, dict):
        return f"{name}: no error in {json.dumps(answer)[:200]}"
    if error.get("reason") == "fault":
        return f"{name}: a fault of the program: {error.get('got')}"
    if not error.get("what") or not (error.get("next_step") or error.get("wanted")):
        return f"{name}: an error without a next step: {error}"
    return ""
