"""What was learned as the text of a profile (TOML), commented for whoever changes it. Pure."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from acquire.learn.beside.anglebyte import AngleByte
from acquire.learn.beside.bandtokens import channel_of
from acquire.learn.beside.burst import Burst
from acquire.learn.checksums.textproof import TextProof
from acquire.learn.frames.frames import Frame
from acquire.learn.lines.line import Line
from acquire.learn.numbers.count import Count
from acquire.learn.numbers.held import Run
from acquire.learn.numbers.limits import Limits
from acquire.learn.numbers.number import DECIMALS, NumberAt
from acquire.learn.presses.framing import MINUS
from acquire.learn.presses.press import About, half_step
from acquire.learn.presses.repeats import repeat_window_s
from acquire.wire import Form, Proof, Sent

_ECHO_S = "1.0"
_LEAST_SILENCE_S = 0.25
"""Nobody presses faster, and few meters pause longer within a press."""


def line_profile(
    line: Line, end: bytes, about: About, limits: Limits, *, remarks: Sequence[str], repeats: bool
) -> str:
    """The profile for the driver "line"."""
    burst = line.burst
    longest = len(line.example)
    if isinstance(burst, Burst):
        longest = max(longest, *(len(beside.example) for beside in burst.beside), 0)
    body = [
        *_head(about, "text lines", remarks),
        "[text]",
        f"terminator = {_quoted(end.decode('ascii'))}",
        f"encoding = {_quoted(_encoding(line))}",
        f"max_line_bytes = {min(256, max(64, 2 * longest))}",
        f"line_timeout_s = {max(0.5, 2 * about.pause_s):.2f}",
    ]
    if not line.has_empty:
        body.append('empty = "noise"')
    if isinstance(burst, Burst):
        body += [
            "# Lines with no longer pause between are one press, and are all good or all noise.",
            f"together_s = {max(_LEAST_SILENCE_S, 2 * about.pause_s):.2f}",
        ]
    body.append("")
    proof = line.proven.proof
    if isinstance(proof, TextProof):
        body += [
            "[checksum]",
            f"kind = {_quoted(proof.kind)}",
            f"form = {_quoted(proof.form)}",
            f"after = {_quoted(proof.after)}",
            *([f"first = {proof.first}"] if proof.first else []),
            *(["with_after = true"] if proof.with_after else []),
            *([] if proof.sent is Sent.PLAIN else [f"sent = {_quoted(proof.sent.value)}"]),
            "",
        ]
    body += ["[[message]]", 'means = "reading"', f"pattern = '{line.pattern}'"]
    if line.example.isascii():
        body.append(f"example = {_quoted(line.example)}")
    if isinstance(burst, Burst):
        body.append(f"in_press = {list(burst.own)}")
    length, width = line.widths
    if length is not None or width is not None:
        body.append("# Every press had these, and its number was filled up to them.")
    body += [] if length is None else [f"length = {length}"]
    body += [] if width is None else [f"width = {width}"]
    if isinstance(burst, Burst):
        for beside in burst.beside:
            body += ["", "[[message]]", 'means = "nothing"', f"pattern = '{beside.pattern}'"]
            if beside.example.isascii():
                body.append(f"example = {_quoted(beside.example)}")
            body.append(f"in_press = {list(beside.places)}")
            body += [] if beside.has_checksum else ["checksum = false"]
    if line.sign is not None:
        means = ", ".join(f'{_quoted(t)} = "{what}"' for t, what in line.sign.tokens().items())
        body += ["", "[sign]", f"tokens = {{ {means} }}"]
    body += ["", "[value]", f"decimal = {_quoted(line.point)}"]
    body += [f"thousands = {_quoted(line.thousands)}"] if line.thousands else []
    body += (
        ["# Every number has a power of ten: one without is noise.", "exponent = true"]
        if line.power
        else []
    )
    if line.implied_decimals:
        body += [
            "# No number has its decimal point.",
            f"implied_decimals = {line.implied_decimals}",
        ]
    if not line.has_zeros:
        body += ["# Presses with fewer digits had no zeros before them.", "leading_zeros = false"]
    body += [*_limits_of(line, limits), ""]
    units = ", ".join(f"{_quoted(token)} = {_quoted(unit)}" for token, unit in line.units)
    tokens = f"tokens = {{ {units} }}"
    body += ["[unit]", tokens if line.units else f"default = {_quoted(about.unit or '')}", ""]
    body += _channels(line, about)
    body += _press(about, is_counted=line.has_count, repeats=repeats)
    return "\n".join(body) + "\n"


def _encoding(line: Line) -> str:
    if MINUS in line.pattern:
        return "utf-8"
    return "ascii" if line.example.isascii() else "latin-1"


def frame_profile(frame: Frame, about: About, *, remarks: Sequence[str]) -> str:
    """The profile for the driver "frame"."""
    silence_s = max(_LEAST_SILENCE_S, 2 * about.pause_s)
    body = [*_head(about, "binary frames", remarks), "[frame]"]
    if frame.start:
        body.append(f'start = "{_hex(frame.start)}"')
    if frame.end:
        body.append(f'end = "{_hex(frame.end)}"')
    body += [
        f"bytes = {frame.length}",
        f"silence_s = {silence_s:.2f}",
        "# With bytes beside a frame that are none, all is noise.",
        "together = true",
        "",
    ]
    proof = frame.proven.proof
    if isinstance(proof, Proof):
        body += [
            "[checksum]",
            f"kind = {_quoted(proof.name)}",
            f"first = {proof.first}",
            f"last = {proof.last}",
            f"at = {proof.at}",
            f"order = {_quoted(proof.order)}",
            f"sent = {_quoted(proof.sent.value)}",
            *([] if proof.form is Form.BYTES else [f"form = {_quoted(proof.form.value)}"]),
            "",
        ]
    body += _message(frame)
    count = frame.held.counted
    body += _message_at_zero(frame)
    body += ["", "[unit]", f"default = {_quoted(about.unit or '')}", ""]
    body += _channel(about) if frame.angles is None else _angles(frame.angles)
    most = count.most if count is not None else 0
    body += _press(about, is_counted=count is not None, repeats=frame.repeats > 1, most_count=most)
    body += _open_count(count)
    return "\n".join(body) + "\n"


def _message(frame: Frame) -> list[str]:
    """The message of frames with a number."""
    body = ["[[message]]", 'means = "reading"']
    if frame.runs:
        body += [
            "# What never changed: other bits there may say that the number is none.",
            "where = [",
        ]
        body += [f"    {{ {_condition(run)} }}," for run in frame.runs]
        body.append("]")
    values = {**(frame.angles.narrower if frame.angles else {}), **frame.held.values}
    if values:
        body += [
            "# Few values were seen of these bytes: another one may say that a press failed.",
            "one_of = [",
            *(f"    {_choice(at, seen)}," for at, seen in values.items()),
            "]",
        ]
    count = frame.held.counted
    copies = []
    if count is not None:
        copies += [f"{{ offset = {at}, of = {count.lowest} }}" for at in frame.held.copies]
    if (twin := frame.held.twin) is not None:
        copies.append(f"{{ offset = {twin.offset}, of = {twin.of}, bytes = {twin.size} }}")
    if copies:
        body.append(f"copies = [{', '.join(copies)}]")
    if count is not None:
        order = f', order = "{count.order}"' if count.size > 1 else ""
        order = f", size = {count.size}" if count.are_digits else order
        order = f", size = {count.size}{order}" if count.is_packed else order
        body.append(f'count = {{ offset = {count.offset}, type = "{count.type}"{order} }}')
    body += [f'example = "{_hex(frame.example)}"', "", "[[message.value]]", *_number(frame.number)]
    body += _digits(frame)
    if frame.angles is not None:
        body.append(f"geometry_at = {{ offset = {frame.angles.place} }}")
        if frame.angles.again:
            places = ", ".join(f"{{ offset = {at} }}" for at in frame.angles.again)
            body.append("# The geometry once more: a frame in which they differ is noise.")
            body.append(f"geometry_again = [{places}]")
    if frame.held.signs:
        body.append("# These went with the sign of the number: otherwise it is noise.")
        body.append("signs = [")
        body += [
            f'    {{ offset = {at}, plus = "{plus:02X}", minus = "{minus:02X}" }},'
            for at, plus, minus in frame.held.signs
        ]
        body.append("]")
    body += _limits(frame.limits, frame.number.rounded)
    if frame.unseen:
        body += ["# Codes of decimals that no press had.", "status = ["]
        body += [
            f'    {{ offset = {at}, mask = "{mask:02X}", is = "{bits:02X}", means = "error", '
            'code = "DECIMALS" },'
            for at, mask, bits in frame.unseen
        ]
        body.append("]")
    return body


def _message_at_zero(frame: Frame) -> list[str]:
    """The message of frames that had something which only presses of 0 had: no other is read."""
    if (at_zero := frame.at_zero) is None:
        return []
    nothing = frame.limits._replace(least=Decimal(0), most=Decimal(0))
    zero = replace(
        frame, held=at_zero.held, runs=frame.zero_runs, example=at_zero.example, limits=nothing
    )
    words = "# Only presses of 0 had this: how another number is meant then, nobody has seen."
    return ["", words, *_message(zero)]


def _open_count(count: Count | None) -> list[str]:
    """What no press has shown of the count."""
    body = []
    if count is not None and count.proven is not None:
        body.append("# Bits above this count were never seen: one that is set ends the check.")
        body.append(f"proven_count = {count.proven}")
    if count is not None and count.carried_above is not None:
        body.append(
            "# Above it a byte counts on that was 0 at every press: it may be a state, and is"
        )
        body.append("# read only where the count came there by counting.")
        body.append(f"carried_above = {count.carried_above}")
    if count is not None and count.may_be_packed:
        body.append("# Every count so far may be one of packed decimals, in which 16 follows on 9.")
        body.append("may_be_packed = true")
    return body


def _choice(at: int, seen: Sequence[int]) -> str:
    values = ", ".join(f'"{value:02X}"' for value in seen)
    return f"{{ offset = {at}, values = [{values}] }}"


def _condition(run: Run) -> str:
    mask = "" if set(run.mask) == {0xFF} else f'mask = "{_hex(run.mask)}", '
    return f'offset = {run.place}, {mask}is = "{_hex(run.bits)}"'


def _limits_of(line: Line, limits: Limits) -> list[str]:
    """The limits of a line; of several units none is known that holds for all."""
    if len({unit for _, unit in line.units}) > 1:
        is_finer = line.rounded is not None or line.power
        return [] if is_finer else [f"most_decimals = {limits.decimals}"]
    # With a power of ten small numbers have more decimals than the display, which rounds them.
    return _limits(limits, limits.decimals if line.power else line.rounded)


def _limits(limits: Limits, rounded: int | None = None) -> list[str]:
    """The limits; of a number that the display rounds half a step farther, in all its digits."""
    head = "# What the display can show: any other number is noise."
    if rounded is not None:
        half = half_step(rounded)
        return [head, f"least = {limits.least - half:f}", f"most = {limits.most + half:f}"]
    return [
        head,
        f"least = {limits.least:f}",
        f"most = {limits.most:f}",
        f"most_decimals = {limits.decimals}",
    ]


def _number(number: NumberAt) -> list[str]:
    body = [f"offset = {number.offset}", f'type = "{number.type}"']
    if number.type in (*DECIMALS, "digits"):
        body.append(f"size = {number.size}")
    if number.size > 1 and number.type != "digits":
        body.append(f'order = "{number.order}"')
    if number.is_swapped:
        body.append(f'word_order = "{"low" if number.order == "big" else "high"}-first"')
    if number.sign != "none":
        body.append(f'sign = "{number.sign}"')
    if number.power and number.decimals is None:
        body.append(f"scale = {_scale(number.power)}")
    if number.decimals is not None:
        at, mask = number.decimals
        body.append(f'decimals_at = {{ offset = {at}, mask = "{mask:02X}" }}')
    if number.minus is not None:
        at, mask, bits, _ = number.minus
        body.append(f'minus = {{ offset = {at}, mask = "{mask:02X}", is = "{bits:02X}" }}')
    return body


def _digits(frame: Frame) -> list[str]:
    digits = frame.digits
    if digits is None:
        return []
    body = [] if digits.decimals is None else [f"decimals = {digits.decimals}"]
    body += ["full = true"] if digits.is_full else []
    body += ['point = ","'] if frame.number.point == "," else []
    is_told = frame.number.minus is not None
    body += [] if digits.has_plus is None or is_told else [f"plus = {str(digits.has_plus).lower()}"]
    words = "# As presses wrote them: digits that are written otherwise are noise."
    return [words, *body] if body else []


def _scale(power: int) -> str:
    return f"0.{'0' * (power - 1)}1" if power > 0 else f"1{'0' * -power}"


def _head(about: About, what: str, remarks: Sequence[str]) -> list[str]:
    line = about.line
    return [
        f"# A {about.kind.value} meter that sends {what} when its button is pressed.",
        "# Learned from its bytes:",
        *(f"# - {remark}" for remark in remarks),
        _EXPLAINED,
        "",
        f"kind = {_quoted(about.kind.value)}",
        "",
        "[line]",
        f"baud_rate = {line.baud_rate}",
        f"data_bits = {line.data_bits}",
        f"parity = {_quoted(line.parity.value)}",
        f"stop_bits = {line.stop_bits}",
        "",
    ]


def _channels(line: Line, about: About) -> list[str]:
    """The geometries or bands of lines that say them, or the one of all."""
    if not line.channels:
        return _channel(about)
    named = [*((one, _token_means(one, about)) for one in line.channels), *line.angle_codes]
    pairs = ", ".join(f"{_quoted(token)} = {what}" for token, what in named)
    return [f"[{about.channel_key}]", f"tokens = {{ {pairs} }}", ""]


def _token_means(token: str, about: About) -> str:
    """The geometry or band of a token, as TOML."""
    if about.channel_key == "geometry":
        return token
    return _quoted(channel_of(token, about.bands) or "")


def _channel(about: About) -> list[str]:
    if not about.channel_key:
        return []
    channel = about.channel or ""
    value = channel if about.channel_key == "geometry" else _quoted(channel)
    return [f"[{about.channel_key}]", f"default = {value}", ""]


def _angles(told: AngleByte) -> list[str]:
    pairs = ", ".join(f'"{value:02X}" = {angle}' for value, angle in told.tokens.items())
    return ["# Another one is noise.", "[geometry]", f"tokens = {{ {pairs} }}", ""]


def _press(about: About, *, is_counted: bool, repeats: bool, most_count: int = 9999) -> list[str]:
    body = ["[press]", f"echo_window_s = {_ECHO_S}"]
    if (repeats or about.again_s) and not is_counted:
        body.append(f"repeat_window_s = {repeat_window_s(about):.2f}")
    if is_counted:
        body.append(
            "# The count after which the meter starts again, once you know it, and at what:"
        )
        body.append(f"# highest_count = {most_count}")
        body.append("# lowest_count = 1")
    return body


def with_minus_zero(profile: str) -> str:
    """A profile that takes a zero with a minus, where it takes nothing below zero."""
    return re.sub(r"(?m)^least = 0(\.0+)?$", "least = -0.0", profile)


_EXPLAINED = "# Every key is explained in the profiles that come with Coatbench."


def with_remark(profile: str, remark: str) -> str:
    """A profile with one more thing that was learned from the bytes."""
    return profile.replace(_EXPLAINED, f"# - {remark}\n{_EXPLAINED}", 1)


def _hex(data: bytes) -> str:
    return data.hex(" ").upper()


def _quoted(text: str) -> str:
    # JSON's escapes are those of TOML's basic strings, but for the delete character.
    return json.dumps(text).replace("\x7f", "\\u007f")
