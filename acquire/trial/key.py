"""The key of a blind trial: which product each code is.

A key is settled with the plan: the trial file has its SHA-256 (FIPS 180-4), the store its text,
packed so that nobody reads it in passing. That is an envelope and no safe: whoever means to open
the store can unpack it, without a trace. What it proves is that the products were dealt before the
readings and never dealt anew. A random salt keeps the digest from being tried out with the few
orders that a handful of products have. Pure but for the salt, which is handed in; any thread.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Mapping

from acquire.errors import StoreError

SALT_BYTES = 16
_LARGEST_BYTES = 1_000_000
_PACKED = b"coatbench key 1\n"


def key_text(trial: str, products: Mapping[str, str], salt: bytes) -> str:
    """The key of a trial: `products` are names by code, `salt` random bytes."""
    if len(salt) != SALT_BYTES:
        raise ValueError(f"{SALT_BYTES} bytes of salt")
    whole = {"trial": trial, "salt": salt.hex(), "products": dict(products)}
    return json.dumps(whole, ensure_ascii=False, sort_keys=True)


def digest_of(text: str) -> str:
    """What the trial file says of a key."""
    return hashlib.sha256(text.encode()).hexdigest()


def products_of(text: str) -> tuple[str, dict[str, str]]:
    """The trial that a key is of, and the names of its products by code. Raises ValueError."""
    whole = json.loads(text)
    if not isinstance(whole, dict) or not isinstance(whole.get("products"), dict):
        raise ValueError("no key")
    products = {str(code): str(name) for code, name in whole["products"].items()}
    return str(whole.get("trial", "")), products


def packed(text: str) -> bytes:
    """A key as the store has it."""
    return _PACKED + zlib.compress(text.encode(), 9)


def unpacked(sealed: bytes, digest: str) -> str:
    """The text of a key. Raises `StoreError` where it is not the one with this digest."""
    fault = f"{len(sealed)} bytes that are no key"
    if sealed.startswith(_PACKED):
        try:
            machine = zlib.decompressobj()
            text = machine.decompress(sealed[len(_PACKED) :], _LARGEST_BYTES).decode()
        except (zlib.error, UnicodeDecodeError):
            text = ""
        if machine.eof and digest_of(text) == digest:
            return text
        fault = "a key with another digest than the plan's"
    raise StoreError(
        "the key of a trial cannot be opened",
        got=fault,
        wanted=f"the key with digest {digest[:16]}...",
        next_step="coatbench store verify says what was changed in the store",
    )
