"""From presses and what the display showed to a profile, or to why there is none. Pure.

All explanations of the bytes are kept. One is offered only if it is right whichever of them holds;
otherwise what is left is told, and which press would tell it. Never guesses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from acquire.driverapi.registry import Registry
from acquire.learn.beside.against import Says, against, in_frame, open_word, with_afar, word_refused
from acquire.learn.beside.bandtokens import unknown_band
from acquire.learn.beside.several import several, several_in_frames
from acquire.learn.beside.unexplained import STRANGE_END
from acquire.learn.checksums.proven import Proven
from acquire.learn.finding import Finding, Outcome, of_against, of_doubt
from acquire.learn.frames.atzero import codes_at_zero
from acquire.learn.frames.frames import Frames, frames, ones_of
from acquire.learn.frames.undecided import undecided
from acquire.learn.lesson.everyvalue import beyond, every_value
from acquire.learn.lines.anglebeside import named_beside
from acquire.learn.lines.endings import end_of
from acquire.learn.lines.line import Line
from acquire.learn.lines.lines import LONGEST_LINE, Told, bodies_of, lines
from acquire.learn.lines.places import grouped, has_exponent, stands_as_text
from acquire.learn.lines.scaled import bare_in_line, bare_with_unit
from acquire.learn.lines.unitword import with_word
from acquire.learn.numbers.limits import of_text, within
from acquire.learn.numbers.number import EXACT
from acquire.learn.numbers.powers import too_coarse
from acquire.learn.pieces.doubts import has_other_words, in_brackets, rising
from acquire.learn.pieces.units import default_unit, kinds_behind
from acquire.learn.presses.framing import is_text, lines_of, terminator
from acquire.learn.presses.press import LEAST_PRESSES, About, Press, decimals_of, half_step
from acquire.learn.presses.repeats import repeat_words
from acquire.learn.profile.channelsaid import channel_refused
from acquire.learn.profile.proved import faults, unclaimed
from acquire.learn.profile.setting import codes_unsettled, seen, unsettled
from acquire.learn.profile.written import frame_profile, line_profile, with_minus_zero
from acquire.learn.told.countwords import count_refused
from acquire.learn.told.nowhere import nowhere, of_lengths
from acquire.learn.told.numberwords import range_words
from acquire.learn.told.reasons import (
    BESIDE,
    COARSE,
    GROUPED,
    IN_PRESS,
    LEAVE_OUT,
    NO_LIMIT,
    OTHER_FORM,
    OTHER_LINES,
    SHORTER,
    SMALLER,
    TOO_FEW_DIGITS,
    TOO_LONG,
    UNSAYABLE,
)
from acquire.learn.told.told import (
    few,
    is_large,
    nothing,
    of_frame,
    of_line,
    unseen_in_frame,
    unseen_in_line,
)
from acquire.learn.told.unittold import in_bytes, likely_of, said
from acquire.learn.told.unmoved import moves_refused
from acquire.model import MEASURED, Quantity


def learned(presses: Sequence[Press], about: About, registry: Registry) -> Finding:
    """What can be said of a meter by all of these presses."""
    if not presses or not all(press.data for press in presses):
        return Finding(Outcome.NONE, ("a press without any byte",))
    if len({press.shown for press in presses}) == 1 and presses[0].shown == 0:
        # Any bytes of zeros are that number, in any form.
        return Finding(Outcome.MORE, few(len(presses), 1))
    if (over := beyond([press.shown for press in presses], about, "was shown")) is not None:
        return Finding(Outcome.NONE, against=over, next_step=NO_LIMIT)
    data = [press.data for press in presses]
    if is_text(data):
        end = terminator(data)
        if end is not None:
            end = end_of(data, end)
            found = lines(
                presses, end, Told(about.kind, about.moves, about.has_angles, about.channel)
            )
            told = _of_lines(found, end, presses, about, registry) if found else None
            # Some frames look like lines of Latin-1.
            is_sound = told is not None and (told.outcome is not Outcome.NONE or told.against)
            if told is not None and (told.against is not None or told.missing == "word"):
                return told
            if told is not None and (is_sound or _are_ascii(data)):
                return _proven_frame(found, presses, about, registry) or told
            longest = max(len(line) for one in data for line in lines_of(one, end) or [b""])
            if longest > LONGEST_LINE:
                return Finding(Outcome.NONE, (TOO_LONG.format(longest),), next_step=SHORTER)
            if _are_ascii(data) and stands_as_text(presses, end):
                return _proven_frame((), presses, about, registry) or Finding(
                    Outcome.NONE, (UNSAYABLE,), next_step=OTHER_LINES
                )
        if text := grouped(presses):
            return Finding(Outcome.NONE, (GROUPED.format(text),), next_step=LEAVE_OUT)
        if end is not None and (coarse := too_coarse(bodies_of(presses, end), presses)):
            return Finding(Outcome.NONE, (COARSE.format(*coarse),), next_step=SMALLER)
        if has_exponent(presses):
            return Finding(Outcome.NONE, nothing(presses, ""), next_step=OTHER_FORM)
    binary = frames(presses, about)
    if isinstance(binary, str):
        return of_lengths(presses) or nowhere(presses, binary)
    if not binary.judged.rivals:
        return nowhere(presses)
    return _of_frames(binary, presses, about, registry)


def _proven_frame(
    found: Sequence[Line], presses: Sequence[Press], about: About, registry: Registry
) -> Finding | None:
    """Lines whose last sign is a checksum in a byte, as frames: it may be any byte, also an end.

    None where they are of several lengths, or have another checksum, or none. Where no line was
    `found` its last sign is a letter at one press and none at another.
    """
    if any(line.proven.likely is not None for line in found) or len(presses) < LEAST_PRESSES:
        return None
    ones = [one for one, _ in ones_of(presses)]
    if len({len(one) for one in ones}) > 1:
        return None
    binary = frames(presses, about)
    if isinstance(binary, str) or binary.frame is None or binary.frame.proven.proof is None:
        return None
    # The text says what frames do not: a unit, a geometry.
    for line in found[:1]:
        about, _ = _completed(about, presses, line)
        if len(line.units) == 1 and about.unit is None:
            about = replace(about, unit=line.units[0][1])
    told = _of_frames(binary, presses, about, registry)
    # A word that was another one at each press is no explanation of a line by itself.
    is_open = all(map(has_other_words, (line.doubt for line in found)))
    is_known = told.outcome is Outcome.SURE or (is_open and told.outcome is not Outcome.NONE)
    return told if is_known or (is_open and told.against) else None


def evident_kind(presses: Sequence[Press]) -> Quantity | None:
    """What a meter measures, where the unit that it sends as text says it.

    A fault of the line may have made one press something else than text. Bytes that are no lines
    of text say it by a unit behind each number.
    """
    return _kind_of_lines(presses) or _kind_behind(presses)


def _kind_behind(presses: Sequence[Press]) -> Quantity | None:
    half = half_step(decimals_of([press.shown for press in presses]))
    found = set.intersection(*(kinds_behind(press.data, press.shown, half) for press in presses))
    return found.pop() if len(found) == 1 else None


def _kind_of_lines(presses: Sequence[Press]) -> Quantity | None:
    texts = [press for press in presses if is_text([press.data])]
    presses = texts if len(presses) - len(texts) <= 1 else presses
    end = terminator([press.data for press in presses]) if presses else None
    if end is None or not is_text([press.data for press in presses]):
        return None
    # Each press for itself: where a number was mistyped the others say it.
    found = [
        kind
        for kind in MEASURED
        if any(
            line.unit_ahead(kind) or line.units
            for p in presses
            for line in lines([p], end, Told(kind))
        )
    ]
    return found[0] if len(found) == 1 else None


def _of_lines(
    found: list[Line], end: bytes, presses: Sequence[Press], about: About, registry: Registry
) -> Finding:
    left = tuple(map(str, found))
    shown = [press.shown for press in presses]
    if len(found) > 1:
        why = (
            f"{len(found)} numbers of a press are what was shown, at every press: if they always "
            "are, no further press tells, and the profile is to be written by hand (in_press)"
        )
        return Finding(Outcome.MORE, (why,), left, next_step=IN_PRESS)
    (line,) = found
    # The same number every time may be no number of the display at all.
    if min(len(presses), len(set(shown))) < LEAST_PRESSES:
        return Finding(Outcome.MORE, few(len(presses), len(set(shown))), left)
    if line.strange_units:
        tokens = ", ".join(map(repr, line.strange_units))
        why = (
            f"beside the number stands {tokens}, at one press this and at another one that, and "
            "not all of it is a unit that is known"
        )
        # With a checksum one more press tells whether a fault of the line made one of them.
        return of_doubt(several(why, "unit")._replace(is_anew=False), left)
    # Limits hold for one unit: of several none would end what is read.
    lost_from = line.lost_from if len(line.units) > 1 else None
    if lost_from is not None and lost_from <= about.reach(shown)[1]:
        words = TOO_FEW_DIGITS.format(lost_from)
        return of_doubt(several(words, "unit"), left)
    if isinstance(line.burst, str):
        return Finding(Outcome.MORE, (BESIDE.format(line.burst),), left)
    if refused := moves_refused(line, about, left):
        return refused
    if over := count_refused(about.counts_to, about.counts_to if line.has_count else None):
        return of_against(over, of_line(line, end), left)
    doubt = line.doubt or in_brackets(line.before, line.behind, about, shown)
    if doubt is not None:
        if not line.angled or doubt.is_anew:
            return of_doubt(doubt, left)
        told = seen([repr(text) for text in line.angled])
        return replace(of_doubt(doubt, left), missing="angles", likely=told)
    says = with_afar(line.says, [press.data for press in presses], about.kind, is_text=True)
    says = says._replace(angle_beside=named_beside(bodies_of(presses, end), line, about.kind))
    line = with_word(line, says, about)
    believed = of_line(line, end)
    if refused := bare_in_line(line, shown, about, believed, left):
        return refused
    if refused := _refused(says, about, believed, left):
        return refused
    about, missing = _completed(about, presses, line)
    if missing:
        likely = likely_of(missing, about, line, says)
        return Finding(Outcome.UNSAID, tuple(believed), left, missing=missing, likely=likely)
    if open_ := codes_unsettled(line, about, believed, left):
        return open_
    if (doubt := codes_at_zero(line, shown)) is not None:
        return of_doubt(doubt, left)
    believed += said(about, line, says)
    repeats = max(len(lines_of(p.data, end)) - len(set(lines_of(p.data, end))) for p in presses) > 0
    sent = every_value(line, end, about, presses, registry)
    if (over := beyond(sent, about, "was sent for a geometry")) is not None:
        return Finding(Outcome.NONE, against=over, next_step=NO_LIMIT)
    reach = of_text(about, sent, has_point=not line.implied_decimals)
    reach = reach.in_places(line.shown_most(sent), about)
    limits = within(reach, line.lost_from)
    believed += range_words(line, limits, shown)
    text = line_profile(line, end, about, limits, remarks=believed, repeats=repeats)
    # How it writes numbers below zero nobody has seen; that of other meters is no use.
    is_told = min(shown) < 0 or about.kind is not Quantity.FORCE
    step = EXACT.scaleb(Decimal(1), -limits.decimals)
    is_open = limits.is_below_unseen or (limits.least < 0 and not is_told)
    proved = _proved(
        "line", text, presses, about, registry, believed, left, line.proven, line.rounded
    )
    found_out = replace(
        proved,
        unseen=unseen_in_line(line, limits, shown, about, is_below=is_told, loses=limits != reach),
        tell_above=limits.most + step if limits.is_most_guessed and len(line.units) < 2 else None,
        tell_below=-step if is_open else None,
        sent=(min(sent), max(sent)),
        still=tuple(text for text in line.movable if text not in line.moved),
        is_state_open=line.is_count_open or line.is_open,
        is_sign_open=limits.is_below_unseen,
    )
    return _if_not_meagre(found_out, line.alone, len(presses))


def _are_ascii(data: Sequence[bytes]) -> bool:
    return all(one.isascii() for one in data)


def _of_frames(
    binary: Frames, presses: Sequence[Press], about: About, registry: Registry
) -> Finding:
    judged, frame = binary.judged, binary.frame
    left = tuple(map(str, judged.rivals))
    shown = [press.shown for press in presses]
    if min(len(presses), len(set(shown))) < LEAST_PRESSES:
        return Finding(Outcome.MORE, few(len(presses), len(set(shown))), left)
    if frame is None:
        found = of_doubt(undecided(judged, shown), left)
        return replace(found, tell_between=judged.tell_between)
    ones = [one for one, _ in ones_of(presses)]
    if frame.has_strange_end(ones):
        return Finding(Outcome.MORE, (STRANGE_END.why,), left)
    doubt = frame.doubt or several_in_frames(ones, frame.number.places, about.kind)
    if doubt is None and frame.has_unknown(ones):
        doubt = rising(shown)
    if doubt is not None:
        return of_doubt(doubt, left)
    believed = of_frame(frame, len(left))
    is_digits = frame.number.type == "digits"
    says = with_afar(in_frame(frame.number, ones, about.kind), ones, about.kind, is_text=is_digits)
    if refused := bare_with_unit(frame.number, ones, shown, about, believed, left):
        return refused
    if frame.angles is not None:
        says = says._replace(angles=tuple(frame.angles.angles.values()))
    if refused := _refused(says, about, believed, left):
        return refused
    counted = frame.held.counted
    highest = None if counted is None else max(map(counted.read, ones))
    if fewer := count_refused(about.counts_to, highest):
        return of_against(fewer, believed, left)
    about, missing = _completed(about, presses, None, has_channels=frame.angles is not None)
    if missing:
        likely = in_bytes(says, about.kind) if missing == "unit" else ""
        return Finding(Outcome.UNSAID, tuple(believed), left, missing=missing, likely=likely)
    if open_ := unsettled(frame, ones, says, about, believed, left):
        return open_
    believed += said(about, None, says, frame.angles)
    text = frame_profile(frame, about, remarks=believed)
    rounded = frame.number.rounded
    found = _proved("frame", text, presses, about, registry, believed, left, frame.proven, rounded)
    if found.outcome is Outcome.SURE and (over := unclaimed(frame, found.profile, registry)):
        words = (*believed, "a profile of it reads something else", *over)
        return Finding(Outcome.NONE, words, is_unproved=True)
    limits, step = frame.limits, EXACT.scaleb(Decimal(1), -frame.limits.decimals)
    found = replace(
        found,
        tell_above=limits.most + step if limits.is_most_guessed else None,
        tell_below=-step if limits.is_below_unseen else frame.fewer_digits(min(map(abs, shown))),
        is_state_open=bool(frame.held.open or frame.held.likely),
        is_sign_open=frame.held.is_sign_open,
        unseen=unseen_in_frame(frame, ones, about),
        counted_to=None if counted is None else counted.proven,
    )
    return _if_not_meagre(found, frame.alone(ones), len(presses))


def _refused(
    says: Says, about: About, believed: Sequence[str], left: tuple[str, ...]
) -> Finding | None:
    """Why nothing is learned where the bytes say something else than a person, or may do so."""
    found = against(says, about) or word_refused(says, about)
    if found is None:
        word, why = open_word(says, about)
        told = (*believed, why)
        return Finding(Outcome.UNSAID, told, left, missing="word", likely=word) if word else None
    return of_against(found, believed, left)


def _if_not_meagre(found: Finding, alone: int, presses: int) -> Finding:
    """Sure only of a profile that is expected to read most presses.

    Where nothing is open any more, all that changed was seen both ways and may.
    """
    is_sure = found.outcome is Outcome.SURE
    if not (is_sure and found.is_state_open and is_large(alone, presses)):
        return found
    return replace(found, outcome=Outcome.MORE, is_meagre=True)


def _proved(
    family: str, text: str, presses: Sequence[Press], about: About, registry: Registry,
    believed: Sequence[str], left: tuple[str, ...], proven: Proven, rounded: int | None = None,
) -> Finding:  # fmt: skip
    found = faults(family, text, presses, registry, rounded)
    if found and not faults(family, with_minus_zero(text), presses, registry, rounded):
        # A press that had a zero with its minus has shown it.
        text, found = with_minus_zero(text), []
    if found:
        words = (*believed, "a profile of it does not give back the presses", *found)
        return Finding(Outcome.NONE, words, is_unproved=True)
    if other := channel_refused(family, text, presses, about, registry, rounded):
        return of_against(other, believed, left)
    told = (*believed, *repeat_words(text))
    return Finding(Outcome.SURE, told, left, family, text, is_proof_open=proven.rivals > 0)


def _completed(
    about: About, presses: Sequence[Press], line: Line | None, *, has_channels: bool = False
) -> tuple[About, str]:
    """What a person said, with what is evident; and what is missing, which frames may say."""
    if (line is None or not line.units) and about.unit is None:
        unit = (line.unit_ahead(about.kind) if line else "") or default_unit(about.kind)
        # Parts of one and percent look alike where all values are small.
        if about.kind is Quantity.TRANSMITTANCE and max(p.shown for p in presses) <= 2:
            unit = None
        if unit is None:
            return about, "unit"
        about = replace(about, unit=unit)
    has_channels = has_channels or bool(line is not None and line.channels)
    if line is not None and unknown_band(line.channels, about):
        return about, "band"
    if about.channel_key and not has_channels and about.channel is None:
        if about.kind is not Quantity.GLOSS or line is None or not line.evident_angle:
            return about, about.channel_key
        about = replace(about, channel=line.evident_angle)
    return about, ""
