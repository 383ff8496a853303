"""Learning how a meter talks that nobody documented, from its bytes and what its display showed.

Bytes and numbers in, explanations with how sure they are out. Opens nothing, asks nobody, writes no
file. Pure; any thread.
"""

from acquire.learn.beside.against import Against
from acquire.learn.finding import Finding, Outcome
from acquire.learn.lesson.aside import learn
from acquire.learn.lesson.heardasone import as_one_words, frames_in
from acquire.learn.lesson.learn import evident_kind
from acquire.learn.lesson.odd import Odd, odd_one
from acquire.learn.lesson.stray import is_stray, stray_words, unstrayed, without_levels
from acquire.learn.pieces.units import is_unit_sent
from acquire.learn.presses.press import About, Line, Press
from acquire.learn.presses.speed import LINES, Looks, hear, is_ended, is_legible, is_words
from acquire.learn.presses.split import Chunk, Split, split

__all__ = [
    "LINES",
    "About",
    "Against",
    "Chunk",
    "Finding",
    "Line",
    "Looks",
    "Odd",
    "Outcome",
    "Press",
    "Split",
    "as_one_words",
    "evident_kind",
    "frames_in",
    "hear",
    "is_ended",
    "is_legible",
    "is_stray",
    "is_unit_sent",
    "is_words",
    "learn",
    "odd_one",
    "split",
    "stray_words",
    "unstrayed",
    "without_levels",
]
