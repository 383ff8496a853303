"""A lesson without what is evidently none of it, which is told. Pure.

Stray bytes before a press, several presses heard as one, and a press that a fault of the line has
changed.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace

from acquire.driverapi.registry import Registry
from acquire.learn.checksums.proven import MOST_CHANCE
from acquire.learn.finding import Finding, Outcome
from acquire.learn.lesson.heardasone import as_one_words, heard_as_one
from acquire.learn.lesson.otherunit import learned_as_sent as learned
from acquire.learn.lesson.spoiled import Spoiled, spoiled_of
from acquire.learn.lesson.stray import unstrayed
from acquire.learn.presses.press import About, Press
from acquire.learn.profile.written import with_remark

_LONGEST = 48
_ONCE_MORE = "press once more, and learn from all presses together: then it is told which it is"


def learn(presses: Sequence[Press], about: About, registry: Registry) -> Finding:
    """What can be said of a meter by these presses."""
    bare = unstrayed(presses)
    found = _learned(bare.presses, about, registry)
    return _with(found, bare.words) if bare.words else found


def _learned(presses: Sequence[Press], about: About, registry: Registry) -> Finding:
    glued = heard_as_one([press.data for press in presses])
    if not glued:
        return _unspoiled(presses, about, registry)
    found = _unspoiled(*_without(glued, presses, about), registry)
    for place, count in glued.items():
        words = as_one_words(presses[place].data, count)
        found = _with(found, f"press {place + 1} of {len(presses)} is left out: {words}")
    return found


def _without(
    places: Collection[int], presses: Sequence[Press], about: About
) -> tuple[list[Press], About]:
    """The other presses, and as many of them settled as before."""
    others = [press for at, press in enumerate(presses) if at not in places]
    return others, replace(about, settled=about.settled - sum(at < about.settled for at in places))


def _unspoiled(presses: Sequence[Press], about: About, registry: Registry) -> Finding:
    spoiled = spoiled_of([press.data for press in presses])
    if spoiled is None:
        return learned(presses, about, registry)
    which = _which(spoiled, presses)
    fits = len(presses) - len(spoiled.places)
    if not spoiled.is_certain:
        found = learned(presses, about, registry)
        why = (
            f"{which} no {spoiled.kind}, which the other {fits} have as their checksum; that may "
            f"be chance (probability {spoiled.chance:.0e}), or that press was changed on its way"
        )
        return Finding(Outcome.MORE, (why,), found.left, next_step=_ONCE_MORE)
    found = learned(*_without(spoiled.places, presses, about), registry)
    is_used = found.outcome is not Outcome.SURE or "[checksum]" in found.profile
    if found.outcome is Outcome.NONE or not is_used:
        return learned(presses, about, registry)
    return _with(
        found,
        f"{which} not the checksum that the other {fits} have: it was changed on its way, as a "
        f"fault of the line does, and was left out. The checksum was kept, for so many fit it by "
        f"chance with probability {spoiled.chance:.0e}, and {MOST_CHANCE:.0e} is the limit",
    )


def _which(spoiled: Spoiled, presses: Sequence[Press]) -> str:
    """The presses that do not fit, as they came."""
    told = [
        f"press {at + 1} of {len(presses)} ({_brief(presses[at].data)})" for at in spoiled.places
    ]
    return f"{' and '.join(told)} {'has' if len(told) == 1 else 'have'}"


def _brief(data: bytes) -> str:
    is_text = all(0x20 <= byte < 0x7F or byte in b"\r\n\t" for byte in data)
    text = repr(data.decode("latin-1")) if is_text else data.hex(" ").upper()
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST - 3]}..."


def _with(found: Finding, words: str) -> Finding:
    """The finding, with what was set aside; in its profile as well."""
    profile = with_remark(found.profile, words) if found.profile else ""
    return replace(found, believed=(*found.believed, words), profile=profile)
