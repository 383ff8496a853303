"""`coatbench climate`."""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from pathlib import Path

import click

from acquire.cli.faults import DONE
from acquire.cli.reach import bench_option, reach
from acquire.cli.spoken import say
from acquire.errors import Misuse
from acquire.model.room import room_words

_FORM = re.compile(r"\s*([+-]?[0-9.,]+)\s*°?\s*([CF]?)\s*", re.IGNORECASE)


@click.command(context_settings={"ignore_unknown_options": True})
@click.argument("temperature")
@click.option("--humidity", metavar="PERCENT", help="Relative humidity, 0 to 100.")
@bench_option
def climate(temperature: str, humidity: str | None, bench: Path | None) -> int:
    """Enter the climate of the room: TEMPERATURE in degrees Celsius, or with an F behind it.

    From -10 to 50 degrees Celsius: beyond that no bench is used, and no policy can ask for it.

    Policies may ask for it ([ambient]): then a check wants it entered, and a room that leaves its
    limits or moves too far from where it was at the check ends the pass.

    \b
    Example:  coatbench climate 21.4 --humidity 48
              coatbench climate 70.5F
    Next:     coatbench check INSTRUMENT
    """
    celsius = _celsius(temperature)
    percent = None if humidity is None else _number(humidity, "humidity", "48")
    with reach(bench) as client:
        reply = client.call(
            "climate",
            temperature_c=float(celsius),
            humidity_percent=None if percent is None else float(percent),
        )
    say(
        [
            f"entered: {room_words(celsius, percent)}",
            *(f"ended: {message}" for message in reply["ended"]),
        ]
    )
    return DONE


def _celsius(text: str) -> Decimal:
    """Of 70.5F the Celsius, to a hundredth: (70.5 - 32) x 5/9 (NIST SP 811, B.8, from memory)."""
    found = _FORM.fullmatch(text)
    number = _number(found[1] if found else "", "temperature", "21.4, or 70.5F", text)
    if found is None or found[2].upper() != "F":
        return number
    return ((number - 32) * 5 / 9).quantize(Decimal("0.01"))


def _number(text: str, what: str, example: str, typed: str | None = None) -> Decimal:
    """The number of a text; `typed` is what the person typed, where that was more."""
    try:
        number = Decimal(text.replace(",", "."))
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or abs(number) > 1000:
        raise Misuse(
            f"the {what} is not entered",
            got=repr(text if typed is None else typed),
            wanted=f"a number, such as {example}",
            next_step="read it off the thermometer: coatbench climate 21.4 --humidity 48",
        )
    return number
