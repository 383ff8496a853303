"""The cautions of the bench, shown once a sitting and in every report.

The usual cautions of the trade, in our own words; they defer to local codes, makers' data sheets
and qualified practice.
"""

from __future__ import annotations

from acquire.model import Quantity

GENERAL = (
    "Products: read the safety data sheet first; ventilate, wear gloves and eye protection, keep "
    "ignition sources away. Rags with drying oils can heat up by themselves: spread them flat or "
    "keep them under water in a closed metal can.",
    "Wash place: keep electricity away from water, mind the slippery floor, and dispose of waste "
    "water by local rules.",
    "Local codes, the makers' data sheets and qualified practice come before anything said here. "
    "Results describe the tested specimens under the tested conditions.",
)

BY_QUANTITY = {
    Quantity.GLOSS: (),
    Quantity.FORCE: ("Sled and weights: keep feet clear, and nothing under a hanging weight.",),
    Quantity.TRANSMITTANCE: (
        "Ultraviolet heads: never look into the beam, close the cover, mind your skin.",
    ),
}


def cautions(quantities: set[Quantity]) -> tuple[str, ...]:
    """The cautions for a bench that measures these quantities."""
    special = tuple(text for q in sorted(quantities) for text in BY_QUANTITY[q])
    return special + GENERAL
