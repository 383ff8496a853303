"""How the figures came about, by which standards, and what they do not say. Pure; any thread."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice
from typing import NamedTuple

from acquire.analysis.comparisons.comparison import Comparison
from acquire.analysis.figures import signed, suffix
from acquire.model import DriftCorrection, Order, Quantity
from acquire.report.answers.blindness import blind_sentence, layout_sentence
from acquire.report.evidence.between import told_as
from acquire.report.evidence.evidence import Evidence
from acquire.report.evidence.tilescale import tile_scale_lines
from acquire.report.record.checkrecord import CheckRecord
from acquire.report.record.record import TrialRecord
from acquire.report.words.wording import listed

_MOST_ANCHORS = 12

_ORDERS = {
    Order.BY_ZONE: "all readings of a zone, then the next zone",
    Order.INTERLEAVED: "one reading of every zone in turn, then the next round",
    Order.SHUFFLED: "one reading of every zone in turn, the zones of each round in a random order "
    "fixed by the plan",
}

_ABOUT = {
    Quantity.GLOSS: "Specular gloss is given in gloss units (GU): 100 times the light that a "
    "surface reflects in the mirror direction over that of polished black glass of refractive "
    "index 1.567, at the angle named (ISO 2813, ASTM D523). Readings of different angles are "
    "different quantities and are never mixed.",
    Quantity.FORCE: "Force is given in newtons (N), converted from the unit in which the gauge "
    "sent it.",
    Quantity.TRANSMITTANCE: "Transmittance is given in percent of the "
    "open beam, and what a film does as the ratio of its slide to the blank. The same film gives "
    "very different figures by band and weights, so these stand in the name of every figure.",
}


class MeasureMethod(NamedTuple):
    """What holds for one measure and channel."""

    title: str
    rules: tuple[str, ...]
    caveats: tuple[str, ...]
    advice: tuple[str, ...]


def method(record: TrialRecord, evidence: Sequence[Evidence]) -> tuple[str, ...]:
    """What holds for the whole trial, a paragraph each."""
    quantities = dict.fromkeys(e.measure.quantity for e in evidence)
    said = [
        _origin(record),
        *layout_sentence(record),
        *blind_sentence(record),
        *(_ABOUT[q] for q in quantities),
    ]
    if record.plan.unchecked:
        said.append(
            "This trial was declared unchecked in its plan: no check of the instrument was asked "
            "for before its readings counted."
        )
    else:
        said.append(
            "Before readings count, the instrument reads reference pieces of known value. A piece "
            "passes when its deviation, made larger by the uncertainty of the check, lies inside "
            "the limit; it fails when the deviation, made smaller by that uncertainty, lies "
            "outside; between the two it is undecided (JCGM 106:2012, 8.3, guarded acceptance and "
            "rejection). Only a check in which every piece passes opens the way for readings, for "
            "a limited time, and it ends early when the instrument is unplugged, switched off, "
            "exchanged or re-adjusted."
        )
    said += [
        "A later check closes what lies between. If it passes, the readings are bracketed; if it "
        "finds the meter outside its limit, be it failed or undecided otherwise, all readings "
        "since the last passed check are suspect and are left out of these results.",
        "Means, standard deviations and changes are taken from single readings. Uncertainties "
        "follow the Guide to the expression of uncertainty in measurement (JCGM 100:2008): scatter "
        "of the readings, resolution of the display, reading of the checks, reference piece and "
        "the unknown course of a drift between the checks, combined as root of the sum of squares "
        "and expanded to 95 %. What the checks know of the meter, its offset and gain at the "
        "opening and a steady drift from there to the closing, is a known shift and no random "
        "error: it is not taken off, unless the plan wants it, and its full size is added to the "
        "expanded uncertainty (F.2.4.5 there). What is the same on both sides of a difference "
        "cancels and is not added. What grows with the reading, as an error of the meter's gain "
        "does or of a sled's mass, is in a difference by its share of that; it cancels only in a "
        "ratio.",
        "Figures are rounded last: uncertainties to two significant digits, values to the same "
        "place (JCGM 100, 7.2.6). All times are UTC.",
    ]
    return tuple(said)


def _origin(record: TrialRecord) -> str:
    """Where the values came from, and that nothing stored is changed."""
    unchanged = (
        "Nothing stored is ever changed: a reading is taken out by a later entry with a reason, "
        "and both stay."
    )
    typed = record.typed_instruments
    if not typed:
        return (
            "Every value came from the instrument itself over its connection and was written to "
            f"disk, with the bytes it was made from, before anybody saw it. {unchanged}"
        )
    return (
        f"The values of {listed(typed, 12)}, without a port, were read off the display and typed "
        "by a person; all others came from the instrument itself over its connection. Each was "
        f"written to disk, as it came or was typed, before any screen showed it. {unchanged} An "
        "entry is taken for a reading only inside the range and on the step of the display and, "
        "where the instrument's profile says so, if it was typed twice alike; no program can tell "
        "whether the display was read rightly. The serial number of an instrument without a port "
        "is declared by the bench and not read from it, and that it was re-adjusted or switched "
        "off is known only where a person said so."
    )


def measure_method(record: TrialRecord, evidence: Evidence) -> MeasureMethod:
    """Order, display, piece, rules and caveats of one measure and channel."""
    measure, result = evidence.measure, evidence.result
    better = "higher" if measure.higher_is_better else "lower"
    rules = [
        f"Readings were asked for in this order: {_ORDERS[measure.order]}.",
        f"A {better} value counts as better.",
        f"The step of the display is {_step(evidence)}.",
        *_typed(evidence),
        *_anchors(evidence),
        *islice(tile_scale_lines(evidence), _MOST_ANCHORS),
        *result.rules,
        *_of_correction(evidence),
    ]
    return MeasureMethod(
        evidence.title, tuple(rules), caveats(record, evidence), evidence.result.advice
    )


def _of_correction(evidence: Evidence) -> tuple[str, ...]:
    """How readings were corrected for drift, where the plan wants it."""
    found = evidence.corrected
    if found is None:
        return ()
    formula = {
        DriftCorrection.OFFSET: "by offset: the reading r becomes r − (x − c)",
        DriftCorrection.GAIN: "by gain: the reading r becomes r c / x",
    }[found.correction.how]
    rules = found.result.rules if found.result is not None else ()
    return (
        f"The plan wants results corrected for the drift of the meter {formula}, with the "
        "certified value c of the reference piece and with x, what the meter would have read on "
        "it at the moment of the reading, in a straight line between its means at the opening and "
        "at the closing check, from the mean moment of its own readings in the one to that in the "
        "other. A stage is corrected whole or not at all; nothing is extrapolated "
        "beyond the checks. All results stand here both ways; the corrected ones decide.",
        *(
            f"Of the corrected results: {rule}"
            for rule in rules
            if rule not in evidence.result.rules
        ),
        *(f"{stage} is not corrected: {why}." for stage, why in found.correction.why_not.items()),
    )


def _typed(evidence: Evidence) -> tuple[str, ...]:
    """How many readings of a measure and channel a person typed, if any."""
    mine = evidence.readings
    typed = [r for r in mine if r.is_typed]
    if not typed:
        return ()
    who = listed(sorted({r.instrument for r in typed}), 12)
    count = "All" if len(typed) == len(mine) else f"{len(typed)} of {len(mine)}"
    return (f"{count} readings were typed by hand off the display of {who}.",)


def caveats(record: TrialRecord, evidence: Evidence) -> tuple[str, ...]:
    """What limits the results of one measure and channel, each once, single zones first."""
    single: list[str] = []
    said: list[str] = []
    control_is_single = False
    for c in evidence.decided:
        if not isinstance(c, Comparison):
            continue
        own = list(c.caveats)
        # The analysis says this first for each such treatment; here it is said once for all.
        if 1 in (len(c.zones), len(c.control_zones)) and not c.is_of_zones:
            own = own[1:]
            control_is_single |= len(c.control_zones) == 1
            if len(c.zones) == 1:
                single.append(record.name_of(c.treatment))
        said += own
    sides = [*dict.fromkeys(single), *(["the control"] if control_is_single else [])]
    if sides:
        said.insert(0, (
            f"One zone each stands for {listed(sides, 12)}: the decisions hold for these zones as "
            "they were treated. Repeated readings of one zone do not show how a product varies "
            "from zone to zone."
        ))  # fmt: skip
    return tuple(dict.fromkeys([*said, *evidence.result.caveats]))


def _step(evidence: Evidence) -> str:
    if evidence.result.resolution == 0:
        return "not known"
    step = f"{evidence.result.resolution:.4g}{suffix(evidence.result.unit)}"
    return f"{step}, {evidence.resolution_source}"


def _anchors(evidence: Evidence) -> tuple[str, ...]:
    """For each piece that stands for the meter: why, and how it read around the readings."""
    unit, step = suffix(evidence.measure.unit), evidence.result.resolution
    if evidence.measure.sled is not None:
        # The checks are those of forces; the step of results is one of coefficients.
        step *= evidence.measure.sled.weight_n
    found: dict[tuple[str, str, str], list[str]] = {}
    for a in evidence.anchors:
        piece = a.opening
        opened = f"{_check(a.check)} {signed(float(piece.deviation), step)}{unit}"
        if a.closing is not None and a.closing_check is not None:
            closed = signed(float(a.closing.mean - piece.mean), step)
            opened += f", changed by {closed}{unit} until {_check(a.closing_check)}"
            opened += f", as {a.other.piece} alone told" if a.other is not None else ""
        else:
            opened += ", not closed by a passed check"
        found.setdefault((piece.piece, f"{piece.certified}{unit}", a.why), []).append(opened)
    return tuple(
        f"The reference piece {piece} stands for the meter, because its certified value of "
        f"{certified} {why}. Its deviations at the opening: "
        f"{'; '.join(lines[:_MOST_ANCHORS])}"
        f"{f'; and {len(lines) - _MOST_ANCHORS} more' if len(lines) > _MOST_ANCHORS else ''}."
        for (piece, certified, why), lines in found.items()
    )


def _check(check: CheckRecord) -> str:
    return f"check {check.id}{'' if check.outcome == 'pass' else f' ({told_as(check)})'}"
