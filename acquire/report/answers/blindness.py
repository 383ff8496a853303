"""Who knew which product is on which zone, and when: for the head of the page and the terminal.

Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Iterator

from acquire.report.record.record import TrialRecord
from acquire.report.words.wording import counted, moment
from acquire.trial.blinding import Told
from acquire.trial.dealing import layout_words
from acquire.trial.people import shown_name
from acquire.trial.redrawn import is_as_drawn

_DIGITS = 16


def blinding_words(record: TrialRecord) -> tuple[str, ...]:
    """Sentences on codes, key and who was told; none where the plan hides nothing."""
    blinding = record.blinding
    if blinding is None:
        return ()
    key = f"the key with SHA-256 {blinding.digest[:_DIGITS]}..."
    if blinding.sealed_utc_ns is None:
        return (
            f"Blind: products are hidden behind codes. This store does not have {key}, so that "
            "nothing here can tell which product a code is.",
        )
    since = f"{key}, which was sealed on {moment(blinding.sealed_utc_ns)} UTC"
    shown = [f"Before that the key was shown to {_whom(told)}." for told in blinding.shown]
    if blinding.unsealed is None:
        return (
            f"Blind: products are hidden behind codes; which is which says {since}.",
            *(f"The key was shown to {_whom(told)}." for told in blinding.shown),
        )
    told = blinding.unsealed
    return (
        f"Blind until it was unsealed. Products stand beside their codes by {since}, and unsealed "
        f"on {moment(told.at_utc_ns)} UTC by {shown_name(told.who)}{_why(told)}. {_after(told)}",
        *(shown or ["Before that the key was shown to nobody, as far as is recorded."]),
    )


def layout_sentence(record: TrialRecord) -> Iterator[str]:
    """How products were dealt to zones, where a draw is on record."""
    plan = record.plan
    words = layout_words(plan)
    if not words:
        return
    said = (
        f"Products were dealt to the zones by a draw ({words}), by a rule that gives the same "
        "layout from the same seed"
    )
    as_drawn = is_as_drawn(plan)
    if as_drawn is None:
        yield f"{said}; the plan does not say where zones lie, so it cannot be dealt again."
    elif as_drawn:
        yield f"{said}: dealt again for this page, the zones came out as they are in the plan."
    else:
        yield (
            f"{said}. The zones of the plan are NOT those of this draw: they were changed by "
            "hand afterwards."
        )


def blind_sentence(record: TrialRecord) -> Iterator[str]:
    """What codes and a sealed key are worth."""
    if record.blinding is not None:
        yield (
            "Products were hidden behind codes drawn at random. The digest of the key is in the "
            "plan, so that products cannot have been dealt anew after the readings. The store "
            "keeps the key packed and records who was told; it cannot keep a person from looking "
            "who means to, nor tell what somebody saw while the products were put on."
        )


def _whom(told: Told) -> str:
    when = moment(told.at_utc_ns)
    return f"{shown_name(told.who)} on {when} UTC{_why(told)}. {_after(told)[:-1]}"


def _why(told: Told) -> str:
    return f" ({told.why})" if told.why else ""


def _after(told: Told) -> str:
    parts = [
        counted(number, what)
        for number, what in ((told.readings_after, "reading"), (told.ratings_after, "rating"))
        if number
    ]
    if not parts:
        return "Nothing was read or rated after that."
    total = told.readings_after + told.ratings_after
    return f"{' and '.join(parts)} {'was' if total == 1 else 'were'} taken after that."
