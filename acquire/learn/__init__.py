"""Learning how a meter talks that nobody documented, from its bytes and what its display showed.

Bytes and numbers in, explanations with how sure they are out. Opens nothing, asks nobody, writes no
file. Pure; any thread.
"""

from acquire.learn.learn import Finding, Outcome, learn
from acquire.learn.press import About, Line, Press

__all__ = ["About", "Finding", "Line", "Outcome", "Press", "learn"]
