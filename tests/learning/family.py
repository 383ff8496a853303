"""The family of drawn meters: learned as a person would, then held to presses nobody has seen.

A person presses three times and types what is shown. If the learner says that a number above or
below some limit would tell, they press there; if the display cannot show such a number, they say
so. Ten presses at most. What is learned must then read forty further presses, over all of the
display, exactly, also once the counter of a new meter has gone on to its end. It must let nothing
count where the meter says that a press failed: nothing is read, or a notice of power-up has ended
the check before (`tests.learning.trap`).

A press may be noise because it shows a state that no press had. It is counted as unread, and then
taught as well: what is learned with it has to be right.
"""

from __future__ import annotations

import random
import re
import tomllib
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from copy import copy
from dataclasses import replace
from decimal import Decimal

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.model import Quantity
from tests.learning.binaries import Binaries, Hopeless
from tests.learning.meter import Display, Layout, Meter
from tests.learning.texts import Angles, Texts
from tests.learning.trap import Bench

PRESSES, MOST_PRESSES, FURTHER, FAILS = 3, 10, 40, 3
MOST_TAUGHT = 2
OFTEN = (128, 256, 32_768, 65_536)
"""Counts at which a further bit is set, or a counter starts again."""
RIGHT, UNREAD, UNSURE, WRONG = "right", "sure, some presses unread", "unsure", "wrong and sure"
AGAIN = "right once an unread press was taught"


def draw(number: int) -> Meter:
    """The meter of this number."""
    dice = random.Random(number)
    kind = dice.choice(["gloss", "gloss", "force", "transmittance"])
    decimals = dice.choice([1, 1, 1, 2, 0, 3] if kind == "force" else [1, 1, 1, 2, 0])
    most = Decimal(
        dice.choice([20, 50, 100, 500]) if kind == "force" else dice.choice([100, 120, 199])
    )
    least = dice.choice([Decimal(0), Decimal(0), -most if kind == "force" else Decimal(-10)])
    display = Display(kind, decimals, least, most)
    sort = dice.random()
    layout: Layout
    if sort < 0.4:
        layout = Texts(dice, display)
    elif sort < 0.47 and kind == "gloss":
        layout = Angles(dice, display)
    elif sort < 0.93:
        layout = Binaries(dice, display)
    else:
        layout = Hopeless(dice, display)
    count = 0 if dice.random() < 0.8 else dice.randrange(60_000)
    return Meter(display, layout, count, dice)


_UNITS = {"gf": "gram_force", "kgf": "kilogram_force", "lbf": "pound_force"}


def about(meter: Meter) -> About:
    """What a person knows of their meter: what it measures, in which unit and geometry or band."""
    kind = Quantity(meter.display.kind)
    unit = {"gloss": "gloss_unit", "force": "newton", "transmittance": "percent"}[kind]
    # Where it sends its unit the display shows the same one.
    unit = _UNITS.get(getattr(meter.layout, "unit", ""), unit)
    channel = {"gloss": "60", "force": None, "transmittance": "315-400"}[kind]
    if isinstance(meter.layout, Angles):
        channel = meter.layout.shown_angle
    return About(kind, unit=unit, channel=channel)


def _pressed(meter: Meter, low: Decimal | None = None, high: Decimal | None = None) -> Press:
    """A press, with the host's clock where the layout says that there was one."""
    data, shown = meter.press(low, high)
    return Press(data, shown, getattr(meter.layout, "heard", None))


def taught(
    meter: Meter, registry: Registry, *, alone: bool = False, limits: bool = False,
    lesson: tuple[Decimal, Decimal] | None = None,
) -> tuple[Finding, list[Press]]:  # fmt: skip
    """What is learned, and from which presses.

    `alone`: from three, and nobody is asked. `limits`: it is said what the display can show.
    `lesson`: between which numbers it is pressed where nothing else is asked for.
    """
    known = about(meter)
    least_drawn, most_drawn = lesson or (None, None)
    if limits:
        known = replace(known, least=meter.display.least, most=meter.display.most)
    presses = [_pressed(meter, least_drawn, most_drawn) for _ in range(PRESSES)]
    while True:
        found = learn(presses, known, registry)
        if found.missing == "word":
            # Who knows the unit of a meter knows, too, that it is the unit beside this word.
            known = replace(known, word=found.likely)
            continue
        if found.missing == "setting":
            # Nobody has changed what these meters were set to.
            known = replace(known, settled=len(presses))
            continue
        if alone or found.outcome not in (Outcome.MORE, Outcome.SURE):
            return found, presses
        display, above, below = meter.display, found.tell_above, found.tell_below
        can_tell = below is not None and below >= display.least
        if found.outcome is Outcome.SURE and above is not None and known.most is None:
            known = replace(known, most=display.most)
            continue
        if found.is_sign_open and known.least is None:
            known = replace(known, least=display.least)
            continue
        if moves := frozenset(text for text in found.still if moves_in(meter, text)) - known.moves:
            known = replace(known, moves=known.moves | moves)
            continue
        is_open = found.is_proof_open or found.is_state_open
        if found.outcome is Outcome.SURE and not (is_open or can_tell):
            return found, presses
        unit = Decimal(1).scaleb(-display.decimals)
        if found.outcome is Outcome.MORE:
            if below is not None and below < display.least and known.least is None:
                known = replace(known, least=display.least)
                continue
            if above is not None and above > display.most and known.most is None:
                known = replace(known, most=display.most)
                continue
        if len(presses) == MOST_PRESSES:
            return found, presses
        if below is not None and below >= display.least:
            presses.append(_pressed(meter, high=below))
        elif found.outcome is Outcome.MORE and above is not None and above <= display.most:
            presses.append(_pressed(meter, low=above))
        else:
            presses.append(_pressed(meter, low=least_drawn or unit, high=most_drawn))


_LATER = (40, 90, 250, 900)


def moves_in(meter: Meter, text: str) -> bool:
    """Whether a person who knows the meter has seen another number there at presses that went well:
    long after the lesson it is not in its lines.
    """
    shown = meter.display.draw(random.Random(1))
    # Some have a clock that would go on.
    layout = copy(meter.layout)
    lines = [layout.send(shown, meter.count + n, random.Random(n)) for n in _LATER]
    number = re.compile(rb"(?<![0-9.])" + re.escape(text.encode()) + rb"(?![0-9.])")
    return any(number.search(line) is None for line in lines)


def verdict(meter: Meter, found: Finding, registry: Registry) -> tuple[str, str, Press | None]:
    """How right what was learned is, an example of where it is not, and a press that was unread."""
    if found.outcome is not Outcome.SURE:
        return UNSURE, "; ".join(found.believed[:2]), None
    bench = Bench(registry.family(found.family).driver(tomllib.loads(found.profile), "learned"))
    unread: Press | None = None
    wrong = ""
    several = "value_" in found.profile or "P<geometry>" in found.profile
    for data, shown in _further(meter):
        if shown is None:
            # Whoever checks before each press, and is told that the check has ended, is not misled.
            bench.press(*meter.press()[:1], is_check=True)
        values = bench.press(data)
        # Infinity (SCPI-1999, 7.2.1) is a reading above the range, and no number.
        if shown is None and any(one is not None for one in values) and bench.is_checked:
            wrong = f"{data!r} failed and was read as {values}"
        elif shown is not None and not values:
            unread = Press(data, shown)
        elif shown is not None and (
            not is_shown(shown, values, meter) or (len(values) > 1 and not several)
        ):
            wrong = f"{data!r} shows {shown} and was read as {values}"
    if wrong:
        return WRONG, wrong, unread
    if unread is not None:
        return UNREAD, f"{unread.data!r} shows {unread.shown}", unread
    return RIGHT, "", None


def is_shown(shown: Decimal, values: Sequence[Decimal | None], meter: Meter) -> bool:
    """Whether one of the values is what the display shows: to its digits where it rounds them."""
    if getattr(meter.layout, "is_rounded", False):
        return shown in [value.quantize(shown) for value in values if value is not None]
    return shown in values


def _further(meter: Meter) -> Iterator[tuple[bytes, Decimal | None]]:
    """Presses that nobody has seen, then those of a meter that has long been in use, then failed
    ones with None."""
    display, is_new = meter.display, meter.count < 128
    for turn in range(FURTHER):
        near = [display.least, display.most][turn % 2]
        yield meter.press(near - 3, near + 3) if turn < 8 else meter.press()
    for edge in OFTEN:
        # What the high byte of a used meter's count is, is known once a press has carried into it.
        if meter.count < edge <= meter.layout.counts_to and is_new:
            meter.count = edge - 2
            for _ in range(4):
                yield meter.press()
    for _ in range(FAILS):
        failed = meter.layout.fail(meter.count + 2, meter.randomness)
        if failed is not None:
            yield failed, None


def _again(
    meter: Meter, presses: list[Press], unread: Press, registry: Registry
) -> tuple[str, str]:
    """The verdict on what is learned once unread presses are taught, too."""
    how, example, missed = UNREAD, "", unread
    known = replace(about(meter), least=meter.display.least, most=meter.display.most)
    for _ in range(MOST_TAUGHT):
        presses = [*presses, missed]
        known = replace(known, settled=len(presses))
        how, example, more = verdict(meter, learn(presses, known, registry), registry)
        if how != UNREAD or more is None:
            break
        missed = more
    return (AGAIN if how == RIGHT else how), example


def tried(
    numbers: range, registry: Registry, *, alone: bool = False, limits: bool = False,
    drawn: Callable[[int], Meter] = draw,
) -> tuple[dict[str, Counter[str]], list[str], Counter[int]]:  # fmt: skip
    """Outcomes by layout, a line for each meter that did not go right, and presses needed."""
    outcomes: dict[str, Counter[str]] = defaultdict(Counter)
    lines: list[str] = []
    needed: Counter[int] = Counter()
    for number in numbers:
        meter = drawn(number)
        found, presses = taught(meter, registry, alone=alone, limits=limits)
        how, example, unread = verdict(meter, found, registry)
        if unread is not None and how == UNREAD:
            how, more = _again(meter, presses, unread, registry)
            example = more or example
        outcomes[meter.layout.name][how] += 1
        if how in (RIGHT, AGAIN):
            needed[len(presses)] += 1
        elif meter.layout.learnable or how != UNSURE:
            lines.append(f"{number} {meter.layout.name}: {how}: {example}")
    return outcomes, lines, needed
