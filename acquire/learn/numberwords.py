"""What is told of how the number of a line is written, and no press has shown. Pure."""

from __future__ import annotations

from acquire.learn.limits import Limits
from acquire.learn.line import Line
from acquire.learn.textproof import TextProof


def widths_unseen(line: Line) -> list[str]:
    """Lines and numbers of other widths than those to which presses were filled up."""
    length, width = line.widths
    words = []
    if length is not None:
        proof = line.proven.proof
        # As who looks at a line counts it.
        is_proven = isinstance(proof, TextProof)
        whole = length + (len(proof.after) + proof.size if isinstance(proof, TextProof) else 0)
        beside = "with its checksum and " if is_proven else ""
        words.append(f"a line of other than {whole} characters ({beside}without its end)")
    if width is not None:
        words.append(
            f"a number that fills other than {width} characters, with what stands before it to "
            "fill it up"
        )
    if not words:
        return []
    return [
        f"{' or '.join(words)}: such lines are noise, for one that lost a character looks so; show "
        "one if there are any"
    ]


def has_hidden_decimals(line: Line, limits: Limits) -> bool:
    """Whether more decimals were sent than anybody typed, all of them zero."""
    return line.rounded is None and not line.power and _sent(line) > limits.decimals


def _sent(line: Line) -> int:
    """How many decimals stand in the bytes."""
    return max((len(text.strip(" ").partition(line.point)[2]) for text in line.values), default=0)


def decimals_unseen(line: Line, limits: Limits) -> list[str]:
    """Digits that were sent, always zero, behind the last one that somebody typed."""
    if not has_hidden_decimals(line, limits):
        return []
    typed, sent = limits.decimals, _sent(line)
    return [
        f"a number of more than {typed} decimal{'' if typed == 1 else 's'}: {sent} are sent, and "
        "what stands behind those typed was zero at every press; where it is not, presses are "
        "noise. If the display shows so many, type them all, as in 2.50, and learn again"
    ]
