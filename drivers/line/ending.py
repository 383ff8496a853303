"""Whether the terminator of a line profile can stand in the lines themselves. Pure; any thread.

Such a line would be cut in two where nobody meant it, and half a number is a number.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

from acquire.errors import Fault
from acquire.schema import Unsound, show
from drivers.line.entries import Entries

_DIGITS = frozenset("0123456789")
_HEX = {
    "hex-upper": frozenset("0123456789ABCDEF"),
    "hex-lower": frozenset("0123456789abcdef"),
    "hex": frozenset("0123456789ABCDEFabcdef"),
}


def unending(tables: Entries) -> Iterator[Fault]:
    """Where the terminator stands, or can stand, in a line that it is to end."""
    terminator, path = tables.text.terminator, "text.terminator"
    with suppress(Unsound):
        if set(terminator) <= _DIGITS | set(f"+-{tables.value.decimal}{tables.value.thousands}"):
            yield Fault(path, show(terminator), 'what stands in no number, such as "\\r\\n"')
            return
    with suppress(Unsound):
        proof = tables.checksum
        if proof is not None and terminator in proof.after:
            yield Fault("checksum.after", show(proof.after), f"a text without {show(terminator)}")
        elif proof is not None and set(terminator) <= _HEX[proof.form]:
            yield Fault(path, show(terminator), "what stands in no checksum in hex digits")
    with suppress(Unsound):
        for index, message in enumerate(tables.message):
            if message.example is not None and terminator in message.example:
                wanted = f"a line without {show(terminator)}, which would end it there"
                yield Fault(f"message[{index}].example", show(message.example), wanted)
