"""What is rated now, in large, with the steps of its scale and their keys. Pure."""

from __future__ import annotations

from rich.text import Text

from acquire.live import blocks
from acquire.live.canvas import FAINT, STRONG, WARN, Glyphs, line, paragraph
from acquire.live.ratingqueue import ONE_KEY, RatingQueue
from acquire.live.words import clean
from acquire.trial.ratings import Rateable


def thing_words(queue: RatingQueue, thing: Rateable) -> str:
    """``zone A1``, or the product; of a blind trial its code, which is all the plan has."""
    if thing.zone:
        return f"zone {clean(thing.zone)}"
    name = next((t.name for t in queue.plan.treatments if t.id == thing.treatment), thing.treatment)
    return clean(name)


def rating_panel(
    queue: RatingQueue, thing: Rateable, width: int, most: int, tall: int, glyphs: Glyphs
) -> list[Text]:
    """The panel in at most `most` lines; what is on a zone is not said, so that nothing leads."""
    scale = queue.scale(thing)
    short = clean(thing.zone or thing.treatment)
    head = paragraph(f"RATE {thing_words(queue, thing)}: {clean(scale.name)}", width, 2, STRONG)
    earlier = queue.earlier(thing)
    if earlier is not None:
        head += paragraph(f"rated {clean(scale.words(earlier.step))} before", width, 2, WARN)
    steps: list[Text] = []
    for number, words in enumerate(scale.steps, start=1):
        told = paragraph(f"{number:>2}  {clean(words)}", width, 2)
        steps += told if number not in (1, len(scale.steps)) else [
            Text.assemble(told[0], ("  worst" if number == 1 else "  best", FAINT), end=""),
            *told[1:],
        ]  # fmt: skip
    if len(scale.steps) > ONE_KEY:
        steps.append(line("type its number, Enter", FAINT))
    large = blocks.large(short, width, tall, glyphs)
    if len(head) + len(large) + len(steps) > most:
        large = []
    return [*large, *head, *steps][:most]
