"""RFC 8032 (Ed25519), section 7.1, TEST 1 to 3: our signing key, and both checks of the verifier."""

from __future__ import annotations

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from pollstead.record.keys import public_hex, signature_fits
from pollstead.record.standalone.verify import ed25519_by_library, ed25519_fits_pure

# RFC 8032 section 7.1: secret key, public key, message, signature of TEST 1, 2 and 3, read in
# programs' own copies of the section's vectors.
VECTORS = [
    (
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
        "",
        (
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46b"
            "d25bf5f0595bbe24655141438e7a100b"
        ),
    ),
    (
        "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
        "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
        "72",
        (
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c"
            "387b2eaeb4302aeeb00d291612bb0c00"
        ),
    ),
    (
        "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
        "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
        "af82",
        (
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc659"
            "4a7c15e9716ed28dc027beceea1ec40a"
        ),
    ),
]


@pytest.mark.parametrize(("secret", "public", "text", "signature"), VECTORS)
def test_vectors_of_section_7_1(secret: str, public: str, text: str, signature: str) -> None:
    """Key, signature and every way of checking agree with the RFC; an altered message does not fit."""
    key = Ed25519PrivateKey.from_private_bytes(bytes.fromhex(secret))
    message, signed = bytes.fromhex(text), bytes.fromhex(signature)
    assert public_hex(key) == public
    assert key.sign(message) == signed
    assert signature_fits(public, signed, message)
    assert not signature_fits(public, signed, message + b"\x00")
    for fits in (ed25519_fits_pure, ed25519_by_library()):
        assert fits is not None
        assert fits(bytes.fromhex(public), signed, message)
        assert not fits(bytes.fromhex(public), signed, message + b"\x00")
        assert not fits(bytes.fromhex(public), bytes([signed[0] ^ 1]) + signed[1:], message)
