"""The pure half of a wire: splitting streams into lines, checksums, closed tables of codes.

Shared by drivers. Nothing here opens, waits or stores; one thread at a time per object.
"""

from acquire.wire.checksum import CHECKSUMS, Checksum
from acquire.wire.framer import Frame, LineFramer
from acquire.wire.table import ClosedTable

__all__ = ["CHECKSUMS", "Checksum", "ClosedTable", "Frame", "LineFramer"]
