"""What lines end with that proves them: a checksum or a sum, taken off the rest. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.learn.checksums.proven import Proven
from acquire.learn.checksums.textproof import Tail, TextProof
from acquire.learn.checksums.textproofs import tail, text
from acquire.learn.pieces.column import literal
from acquire.learn.presses.framing import closers_of, encoding_of, lines_of


class Endings(NamedTuple):
    """`bodies` are the lines of each press without what proves them.

    `pattern` is that of a checksum of which it is not known how it is made, empty for one that is
    known; `at` the place in a press of the only line that has such a one, None where any may.
    """

    proven: Proven
    bodies: list[list[str]]
    pattern: str
    at: int | None

    def of_line(self, index: int) -> str:
        """The pattern for the end of the line at a place in its press."""
        return self.pattern if self.at in (None, index) else ""

    def is_certain_of(self, index: int, bursts: Sequence[Sequence[str]]) -> bool:
        """Whether what proves the line at a place is known: then nothing before it does so.

        `bursts` are the whole lines of each press.
        """
        if self.proven.likely is None or self.proven.is_likely_open:
            return False
        pairs = zip(bursts, self.bodies, strict=True)
        return all(one[index : index + 1] != body[index : index + 1] for one, body in pairs)


def end_of(presses: Sequence[bytes], end: bytes) -> bytes:
    """What ends every line, where `end` does or would but for signs behind a checksum.

    A profile names a checksum that is the last thing of a line, so that signs behind it end the
    line together with CR and LF. Only a checksum that is found without them shows that.
    """
    code = encoding_of(presses)
    for closer in (b"", *closers_of(presses, end)):
        whole = closer + end
        bursts = [[line.decode(code) for line in lines_of(data, whole)] for data in presses]
        found = endings_of(bursts)
        is_certain = found.proven.proof is not None or not found.proven.is_likely_open
        if found.proven.likely is not None and (not closer or is_certain):
            return whole
    return end


def endings_of(bursts: Sequence[Sequence[str]]) -> Endings:
    """What the lines of presses end with."""
    proven = text([line for burst in bursts for line in burst])
    # A heading may be without.
    still = set(bursts[0]).intersection(*bursts[1:])
    moving = [line for burst in bursts for line in burst if line not in still]
    if proven.likely is None:
        proven = text(moving)
    at = None
    if proven.likely is None:
        sum_, is_certain = tail(moving)
        if sum_ is None:
            at, sum_, is_certain = _of_one_line(bursts)
        if sum_ is not None:
            proven = proven._replace(likely=sum_, is_likely_open=not is_certain)
    bodies = [
        [_body(line, proven) if at in (None, index) else line for index, line in enumerate(burst)]
        for burst in bursts
    ]
    return Endings(proven, bodies, _pattern(proven), at)


def _of_one_line(bursts: Sequence[Sequence[str]]) -> tuple[int | None, Tail | None, bool]:
    """The only line of every press that ends in a sum, at its place."""
    if len({len(burst) for burst in bursts}) > 1 or len(bursts[0]) < 2:
        return None, None, False
    found = []
    for at, column in enumerate(zip(*bursts, strict=True)):
        if len(set(column)) > 1:
            sum_, is_certain = tail(column)
            if sum_ is not None:
                found.append((at, sum_, is_certain))
    best = [one for one in found if one[2]] or found
    return best[0] if len(best) == 1 else (None, None, False)


def _body(line: str, proven: Proven) -> str:
    """A line without its checksum and what stands before that."""
    likely = proven.likely
    if isinstance(likely, Tail):
        cut = len(line) - len(likely.after) - likely.size
        is_there = cut >= 0 and re.fullmatch(likely.pattern, line[-likely.size :]) is not None
        return line[:cut] if is_there and line[cut:].startswith(likely.after) else line
    if not isinstance(likely, TextProof):
        return line
    cut = len(line) - len(likely.after) - likely.size
    # Without a sign before it only the checksum itself tells whether a line has one.
    is_there = line[max(cut, 0) :].startswith(likely.after) if likely.after else likely.holds(line)
    return line[:cut] if is_there else line


def _pattern(proven: Proven) -> str:
    likely = proven.likely
    if isinstance(likely, Tail):
        return literal(likely.after) + likely.pattern
    if proven.proof is not None or not isinstance(likely, TextProof):
        return ""
    return f"{literal(likely.after)}[0-9A-Fa-f]{{{likely.size}}}"
