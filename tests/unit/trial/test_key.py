"""The key of a blind trial: its digest, its envelope, and an envelope that was exchanged."""

from __future__ import annotations

import hashlib

import pytest

from acquire.errors import StoreError
from acquire.trial.key import digest_of, key_text, packed, products_of, unpacked

PRODUCTS = {"k1": "Grebe “wax” 🦆", "k2": "Plover sealant"}
TEXT = key_text("quay-1", PRODUCTS, bytes(range(16)))


def test_a_key_comes_out_of_its_envelope_as_it_went_in() -> None:
    again = unpacked(packed(TEXT), digest_of(TEXT))
    assert again == TEXT
    assert products_of(again) == ("quay-1", PRODUCTS)


def test_the_digest_is_the_sha_256_of_the_text() -> None:
    assert digest_of(TEXT) == hashlib.sha256(TEXT.encode()).hexdigest()


def test_nobody_reads_a_product_in_passing() -> None:
    assert b"Plover" not in packed(TEXT)


def test_the_same_products_with_another_salt_have_another_digest() -> None:
    assert digest_of(TEXT) != digest_of(key_text("quay-1", PRODUCTS, bytes(16)))


@pytest.mark.parametrize(
    "sealed",
    [
        packed(key_text("quay-1", {"k1": "Plover sealant", "k2": "Grebe wax"}, bytes(16))),
        packed(TEXT)[:-3],
        b"",
        b"coatbench key 1\nnot packed",
        packed(" " * 5_000_000),
    ],
)
def test_another_key_or_none_in_the_envelope_is_told(sealed: bytes) -> None:
    with pytest.raises(StoreError, match="the key of a trial cannot be opened"):
        unpacked(sealed, digest_of(TEXT))
