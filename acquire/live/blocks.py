"""Blocks that several screens share: value and zone in large, instruments, story, foot. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rich.text import Text

from acquire.live.bigprint import bigprint
from acquire.live.board import Board
from acquire.live.canvas import (
    BAD,
    FAINT,
    GOOD,
    STRONG,
    WARN,
    Glyphs,
    fitted,
    headed,
    line,
    paragraph,
)
from acquire.live.entry import OPENS_ENTRY
from acquire.live.tone import Tone
from acquire.live.words import (
    angle,
    check_words,
    clean,
    figure,
    flag_words,
    loose_words,
    place,
)
from acquire.units import symbol

STYLES = {Tone.ACCEPTED: GOOD, Tone.REFUSED: BAD, Tone.TROUBLE: WARN, Tone.PLAIN: ""}


def tallness(width: int, height: int, least_rows: int) -> int:
    """How tall large print may be: 0 for not at all, 2 where there is plenty of room."""
    if height < least_rows or width < 60:
        return 0
    return 2 if height >= least_rows + 14 and width >= 100 else 1


def large(text: str, width: int, tall: int, glyphs: Glyphs, style: str = STRONG) -> list[Text]:
    """A short text as large as there is room for; `tall` as `tallness` gives it."""
    drawn = bigprint(text, width, glyphs.block, tall) if tall else None
    if drawn is None:
        return [line(text, style)]
    return [line(part, style) for part in drawn]


def last_reading(
    item: Mapping[str, Any] | None,
    width: int,
    tall: int,
    glyphs: Glyphs,
    *,
    lost: Mapping[str, Any] | None = None,
    named: bool = False,
    typed: bool = False,
) -> list[Text]:
    """The last reading: heading, value in large, what became of it.

    `item` is a row of the stream, `lost` the row of noise that came after it. `named` puts the
    instrument into the heading; `typed` says there that the value was typed by hand.
    """
    if lost is not None:
        return [
            line("LAST", FAINT),
            *large("NOISE", width, tall, glyphs, BAD),
            *paragraph("NOT ACCEPTED: noise, press again", width, 2, BAD),
            *paragraph(clean(lost["reason"]), width, 2),
        ]
    if item is None:
        return [line("LAST", FAINT), line("no reading yet")]
    who = f" of {clean(item['instrument'])}" if named else ""
    number, by_hand = item["id"], "typed" if typed else ""
    if item["value"] is None:
        value, unit = flag_words(item["flags"]) or "no value", ""
    else:
        value, unit = figure(item["value"]), symbol(item["unit"])
    refused = item["role"] == "loose"
    style = BAD if refused else GOOD
    if item.get("void_reason"):
        style = WARN
        fate = paragraph(f"VOID: {clean(item['void_reason'])}", width, 2, WARN)
    elif refused:
        fate = [
            line("NOT ACCEPTED", BAD),
            *paragraph(loose_words(item["loose_reason"], typed=typed), width, 3),
        ]
    else:
        where = (
            f"piece {clean(item['piece'])}"
            if item["role"] == "check"
            else place(item["zone"], item["replicate"])
        )
        fate = paragraph(f"accepted: {where}", width, 2, GOOD)
    measured = ", ".join(filter(None, (f"{unit}{angle(item['channel'])}".strip(), by_hand)))
    return [
        *paragraph(f"LAST{who}, reading {number}, {measured}".rstrip(", "), width, 3, FAINT),
        *large(value, width, tall, glyphs, style if item["value"] is None else STRONG),
        *fate,
    ]


def instruments(board: Board, width: int, most: int, first: str = "") -> list[Text]:
    """One line an instrument: name, whether it is there, how its check stands."""
    if board.status is None:
        return [line("waiting for the daemon's word", FAINT)]
    known = sorted(board.status["instruments"], key=lambda i: i["id"] != first)
    shown = known if len(known) <= most else known[: max(1, most - 1)]
    room = max((len(clean(i["id"])) for i in shown), default=0)
    room = min(room, max(8, width // 4))
    lines = []
    for own in shown:
        check = own["check"]
        good = own["connected"] and check["valid"] and own["checking"] is None
        state = "connected" if own["connected"] else "NOT THERE"
        lines.append(
            fitted(
                Text.assemble(
                    (f"{clean(own['id'])[:room]:<{room}}  ", STRONG),
                    (f"{state:<9}  ", "" if own["connected"] else BAD),
                    (check_words(own), GOOD if good else WARN),
                    no_wrap=True,
                ),
                width,
            )
        )
    if len(shown) < min(len(known), most):
        rest = len(known) - len(shown)
        lines.append(line(f"and {rest} more: coatbench status", FAINT))
    return lines


def story(board: Board, width: int, rows: int, glyphs: Glyphs) -> list[Text]:
    """The last happenings in at most `rows` lines, the newest at the bottom, each told whole."""
    if rows < 2:
        return []
    lines: list[Text] = []
    for happening in reversed(board.story.happenings):
        room = rows - 1 - len(lines)
        if room < 1:
            break
        style = STYLES[happening.tone]
        lines[:0] = paragraph(str(happening), width, min(3, room), style)
    return [headed("what happened", width, glyphs), *lines]


def sign(parts: tuple[str, str, str] | None, width: int, most: int) -> list[Text]:
    """A stop sign: heading, reason, next step, each whole as far as there is room."""
    if parts is None or most < 2:
        return []
    heading, reason, next_step = parts
    ahead = paragraph(f"Next: {clean(next_step)}", width, max(1, most // 3), STRONG)
    body = paragraph(f"{heading}: {clean(reason)}", width, max(1, most - len(ahead)), BAD)
    return [*body, *ahead]


def spoken(text: str, width: int, most: int, style: str) -> list[Text]:
    """A word to the person in at most `most` lines; what is cut is never its next step."""
    whole = paragraph(text, width, most + 1, style) or [line()]
    if len(whole) <= most:
        return whole
    said, mark, step = text.rpartition("Next: ")
    if not mark or most < 2:
        return [*whole[: most - 1], line(" ".join(w.plain for w in whole[most - 1 :]), style)]
    ahead = paragraph(mark + step, width, most - 1, style)
    return [*paragraph(said, width, most - len(ahead), style), *ahead]


Keys = Sequence[tuple[str, str]]


def keys_of(keys: Keys, board: Board, meter: str) -> Keys:
    """The keys that do something now: none asks a meter that can only be pressed."""
    idle = {
        *(() if board.can_take(meter) else ("t",)),
        *(() if board.is_typed(meter) else (OPENS_ENTRY,)),
    }
    return [k for k in keys if k[0] not in idle]


def hints(keys: Keys, width: int, most: int) -> list[Text]:
    """Keys and what they do in at most `most` lines; where there is no room the last one stays."""
    rows: list[list[tuple[str, str]]] = [[]]
    for key in keys:
        if _cells([*rows[-1], key]) > width and rows[-1]:
            rows.append([])
        rows[-1].append(key)
    if len(rows) > most:
        rows = rows[:most]
        while len(rows[-1]) > 1 and _cells([*rows[-1], keys[-1]]) > width:
            rows[-1].pop()
        rows[-1].append(keys[-1])
    return [
        Text("  ").join(Text.assemble((key, STRONG), f" {act}") for key, act in row) for row in rows
    ]


def _cells(keys: Keys) -> int:
    return sum(len(key) + len(act) + 3 for key, act in keys) - 2


def foot(board: Board, keys: Keys, width: int, height: int) -> list[Text]:
    """The prompt or the last word to the person, and below it the keys: two lines to six."""
    if board.prompt is not None:
        asked = f"{board.prompt.question}: "
        room = max(10, width - len(asked) - 2)
        typed = board.prompt.text[-room:]
        return [
            Text.assemble((asked, STRONG), typed, ("_", STRONG), no_wrap=True),
            line("Enter does it, Esc leaves it", FAINT),
        ]
    most = max(1, min(3, height // 6))
    return [
        *spoken(board.message, width, most, STYLES[board.message_tone]),
        *hints(keys, width, max(1, min(3, height // 6))),
    ]


def cover(lines: Sequence[str], width: int, height: int) -> list[Text]:
    """A page over the whole screen. A line that begins with a key and four spaces hangs there."""
    out: list[Text] = []
    for text in lines:
        key, body = (text[:5], text[5:]) if text[1:5] == "    " else ("", text)
        wrapped = paragraph(body, width - len(key), 6) or [line()]
        out.append(line(key + wrapped[0].plain))
        out += [line(" " * len(key) + part.plain) for part in wrapped[1:]]
    return [*out[: height - 2], line(), line("any key goes on", STRONG)]
