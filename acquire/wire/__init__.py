"""The pure half of a wire: splitting streams into frames, checksums, closed tables of codes.

Shared by drivers. Nothing here opens, waits or stores; one thread at a time per object.
"""

from acquire.wire.blocks import BlockFramer
from acquire.wire.checksum import CHECKSUMS, Checksum
from acquire.wire.framer import Frame, LineFramer
from acquire.wire.shape import Form, LengthField, Order, Proof, Sent, Shape
from acquire.wire.silence import Silence
from acquire.wire.table import ClosedTable

__all__ = [
    "CHECKSUMS",
    "BlockFramer",
    "Checksum",
    "ClosedTable",
    "Form",
    "Frame",
    "LengthField",
    "LineFramer",
    "Order",
    "Proof",
    "Sent",
    "Shape",
    "Silence",
]
