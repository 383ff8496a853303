"""What a profile says twice and differently is told when it is loaded, by every family."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from acquire.schema import either
from drivers.frame import FAMILY as FRAME
from drivers.hid import FAMILY as HID
from drivers.line import FAMILY as LINE
from drivers.modbus import FAMILY as MODBUS
from drivers.usbtmc import FAMILY as USBTMC
from tests.captures import family_of, profile
from tests.drivers.faulty import told


def changed(layout: str, **entries: Any) -> dict[str, Any]:
    """A shipped profile with entries put in place of its own: ``message__0__count``."""
    table = deepcopy(dict(profile(layout)))
    for path, entry in entries.items():
        *way, last = [int(step) if step.isdecimal() else step for step in path.split("__")]
        place: Any = table
        for step in way:
            place = place[step] if isinstance(place, list) else place.setdefault(step, {})
        place[last] = entry
    return table


# -- lines -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("channels", [{}, {"default": "940"}])
def test_values_whose_tokens_nobody_explains_are_a_fault_of_the_profile(
    channels: dict[str, Any],
) -> None:
    faults = told(LINE, changed("transmission-bands", band=channels))
    assert faults["band.tokens"][0] == "nothing"
    assert faults["band.tokens"][1].startswith("'ir', which the group value_ir")


def test_no_choice_at_all_can_be_said_in_words() -> None:
    assert either([]) == "nothing"


TWO_OF_ONE = {"uv": "315-400", "vis": "315-400", "ir": "780-1400"}


@pytest.mark.parametrize(
    ("layout", "entries", "path", "wanted"),
    [
        ("gloss-press", {"text__terminator": ","},
         "message[0].example", "a line without ',', which would end it there"),
        ("gloss-press", {"text__terminator": "1"},
         "text.terminator", r'what stands in no number, such as "\r\n"'),
        ("gloss-press", {"text__terminator": "*", "checksum__after": "**"},
         "checksum.after", "a text without '*'"),
        ("gloss-press", {"text__terminator": "F"},
         "text.terminator", "what stands in no checksum in hex digits"),
        ("transmission-bands", {"band__tokens": TWO_OF_ONE},
         "band.tokens.vis", "another one than 'uv', which is in message[0] too"),
    ],
)  # fmt: skip
def test_a_line_that_contradicts_itself_is_told(
    layout: str, entries: dict[str, Any], path: str, wanted: str
) -> None:
    assert told(LINE, changed(layout, **entries))[path][1] == wanted


# -- frames ----------------------------------------------------------------------------------------

COUNT = {"type": "bcd", "size": 1}
VALUE = "message__0__value__0__"
OVER = {"offset": 3, "mask": "40", "is": "40", "means": "over-range"}
TWO_AT_ONE_PLACE = [
    {"offset": place, "type": "uint8", "band": band} for place, band in ((1, "315-400"), (1, "940"))
]


@pytest.mark.parametrize(
    ("layout", "entries", "path", "wanted"),
    [
        ("frame-force", {"message__0__count": {"offset": 5, **COUNT}},
         "message[0].value[0]", "bits of its own: count is read from these"),
        ("frame-force", {f"{VALUE}decimals_at": {"offset": 5, "mask": "07"}},
         "message[0].value[0].decimals_at", "bits of its own: value[0] is read from these"),
        ("frame-force", {f"{VALUE}unit_at": {"offset": 4}},
         "message[0].value[0].unit_at", "bits of its own: value[0] is read from these"),
        ("frame-bands", {"message__0__value": TWO_AT_ONE_PLACE},
         "message[0].value[1]", "bits of its own: value[0] is read from these"),
        ("frame-force",
         {"message__0__where": [{"offset": 1, "is": "50"}, {"offset": 1, "is": "51"}]},
         "message[0].where[1].is", "bits that can be beside those of where[0]"),
        ("frame-force", {f"{VALUE}status": [OVER, {**OVER, "means": "under-range"}]},
         "message[0].value[0].status[1].is",
         "bits that are not 'over-range' by value[0].status[0] already"),
        ("frame-force",
         {f"{VALUE}status": [OVER, {**OVER, "mask": "C0", "means": "unstable"}]},
         "message[0].value[0].status[1].is",
         "bits that are not 'over-range' by value[0].status[0] already"),
        ("frame-force",
         {"message__4__where": [{"offset": 1, "is": "50"}, {"offset": 2, "is": "4E"}]},
         "message[4].where", "bytes that tell it from message[0]"),
        ("frame-force", {"unit__tokens": {"4E": "newton", "47": "gram_force", "4B": "newton",
                                          "4C": "newton", "4e": "gram_force"}},
         "unit.tokens.4e", "each code once: '4E' is the same"),
    ],
)  # fmt: skip
def test_a_frame_that_contradicts_itself_is_told(
    layout: str, entries: dict[str, Any], path: str, wanted: str
) -> None:
    assert told(FRAME, changed(layout, **entries))[path][1] == wanted


def test_contradictions_are_told_beside_every_other_fault() -> None:
    faults = told(
        FRAME,
        changed("frame-force", line__baud_rate="fast", message__0__count={"offset": 5, **COUNT}),
    )
    assert set(faults) == {"line.baud_rate", "message[0].value[0]"}


# -- registers, reports, answers ------------------------------------------------------------------

BIT = {"table": "input", "bit": 0}
TROUBLE = {**BIT, "address": 1, "text": "the lamp failed"}
FLAG = {"report": 1, "byte": 1, "bit": 0}
FAMILIES = {"modbus": MODBUS, "hid": HID, "usbtmc": USBTMC}


@pytest.mark.parametrize(
    ("layout", "entries", "path", "wanted"),
    [
        ("modbus-gloss", {"value__1__address": 2, "value__1__type": "uint16"},
         "value[1]", "bits of its own: value[0] is read from these"),
        ("modbus-gloss", {"value__0__type": "uint32"},
         "value[1]", "bits of its own: value[0] is read from these"),
        ("modbus-gloss", {"count__address": 3},
         "count", "bits of its own: value[1] is read from these"),
        ("modbus-gloss", {"trouble__1": {**TROUBLE, "text": "the meter was lifted"}},
         "trouble[1]", "bits of its own: trouble[0] is read from these"),
        ("modbus-gloss", {"trouble__0__address": 0},
         "trouble[0]", "bits of its own: count is read from these"),
        ("modbus-force", {"unit__at__address": 17},
         "unit.at", "bits of its own: value[0] is read from these"),
        ("modbus-force", {"ready": {**BIT, "address": 16}},
         "ready", "bits of its own: value[0] is read from these"),
        ("modbus-force", {"value__0__under_bit": {**BIT, "address": 19}},
         "value[0].under_bit", "a bit of its own"),
        ("modbus-transmission", {"take": {"table": "holding", "address": 10}},
         "take", "bits of its own: value[0] is read from these"),
        ("hid-gloss", {"value__1__byte": 5},
         "value[1]", "bits of its own: value[0] is read from these"),
        ("hid-gloss", {"count__byte": 7},
         "count", "bits of its own: value[1] is read from these"),
        ("hid-gloss", {"flag__0__byte": 4},
         "flag[0]", "bits of its own: value[0] is read from these"),
        ("hid-gloss", {"flag__0__values": [2]},
         "flag[0].values[0]", "0 to 1, which is all that these bits can be"),
        ("hid-gloss", {"value__0__over": [0x1FFFF]},
         "value[0].over[0]", "0 to 65535, which is all that these bits can be"),
        ("hid-gloss",
         {"flag": [{**FLAG, "means": "over"}, {**FLAG, "means": "under"}]},
         "flag[1]", "a place, or values, that are not over by flag[0]"),
        ("usbtmc-bands", {"over": ["--"], "under": ["--"]},
         "under[0]", "a token that is not in over as well"),
        ("usbtmc-bands", {"channels": TWO_OF_ONE},
         "channels.vis", "a channel of its own in answer[0]: 'uv' has this one"),
        ("usbtmc-bands", {"answer__1__pattern": profile("usbtmc-bands")["answer"][0]["pattern"]},
         "answer[1].pattern", "a pattern of its own: answer[0] has this one"),
    ],
)  # fmt: skip
def test_what_is_asked_for_and_contradicts_itself_is_told(
    layout: str, entries: dict[str, Any], path: str, wanted: str
) -> None:
    assert told(FAMILIES[family_of(layout)], changed(layout, **entries))[path][1] == wanted


def test_a_bit_may_spoil_the_value_that_it_stands_in() -> None:
    MODBUS.driver(changed("modbus-gloss", trouble__0={**TROUBLE, "address": 2, "bit": 15}), "p")
