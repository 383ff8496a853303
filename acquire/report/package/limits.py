"""How large a package may be that is written, and read back."""

MOST_BYTES = 2 << 30
"""All of its files together."""
MOST_FILES = 10_000
MOST_DESCRIPTOR_BYTES = 16 << 20
MOST_CELL = 32 << 20
"""Signs of one cell: a file of a certificate stands by itself, so none needs more."""
