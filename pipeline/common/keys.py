"""Keys to sign with: Ed25519, the private one kept in a file under a passphrase.

A key file is JSON. Its secret is sealed with ChaCha20-Poly1305 under a key that scrypt (N = 2^17, r = 8, p = 1: about
128 MB for each guess) makes of the passphrase. The name and the public key are sealed with it, so that neither can be
exchanged.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from typing import Any

from pipeline.common.errors import KeyRefused

KEY_SCHEMA = "vatting.key/1"
COST, BLOCK, LANES = 2**17, 8, 1
MEMORY = 192 * 2**20  # bytes that scrypt may take: 128 · N · r and some
FEWEST_SIGNS = 8
SALT, NONCE = 16, 12


def is_public(text: Any) -> bool:
    """Whether a text is a public key: 64 hex digits."""
    return isinstance(text, str) and re.fullmatch(r"[0-9a-fA-F]{64}", text) is not None


def is_key_file(data: bytes) -> bool:
    """Whether bytes are a file with somebody's private key."""
    return b"PRIVATE KEY-----" in data[:4096] or (data[:1] == b"{" and KEY_SCHEMA.encode("ascii") in data[:4096])


def new_key(name: str, passphrase: str) -> tuple[str, bytes]:
    """A new pair for a name: the public key as hex digits, and the bytes of the key file. Raises KeyRefused."""
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    if len(passphrase) < FEWEST_SIGNS:
        raise KeyRefused(
            f"A passphrase needs at least {FEWEST_SIGNS} signs; four words that belong to no text are good"
        )
    private = Ed25519PrivateKey.generate()
    public = private.public_key().public_bytes_raw().hex()
    salt, nonce = os.urandom(SALT), os.urandom(NONCE)
    sealed = _seal(passphrase, salt).encrypt(nonce, private.private_bytes_raw(), _bound(name, public))
    kept = {"schema": KEY_SCHEMA, "name": name, "public": public}
    kept |= {"salt": salt.hex(), "nonce": nonce.hex(), "secret": sealed.hex()}
    return public, (json.dumps(kept, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def owner_of(data: bytes) -> tuple[str, str]:
    """Name and public key of a key file. Raises KeyRefused."""
    kept = _read(data)
    return kept["name"], kept["public"]


def signed_with(data: bytes, passphrase: str, message: bytes) -> str:
    """The signature of a message as hex digits, by the key of a key file. Raises KeyRefused."""
    from cryptography.exceptions import InvalidTag
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

    kept = _read(data)
    try:
        salt, nonce, sealed = (bytes.fromhex(kept[name]) for name in ("salt", "nonce", "secret"))
        secret = _seal(passphrase, salt).decrypt(nonce, sealed, _bound(kept["name"], kept["public"]))
    except InvalidTag:
        raise KeyRefused("The passphrase does not open this key file, or the file was changed") from None
    except ValueError as error:
        raise KeyRefused("The key file is damaged; take your copy of it, or make a new key") from error
    return Ed25519PrivateKey.from_private_bytes(secret).sign(message).hex()


def fits(public: str, signature: str, message: bytes) -> bool:
    """Whether a signature is that of a message by the owner of a public key."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(public)).verify(bytes.fromhex(signature), message)
    except (InvalidSignature, ValueError):
        return False
    return True


def _read(data: bytes) -> dict[str, str]:
    try:
        kept = json.loads(data)
        if kept["schema"] != KEY_SCHEMA or not all(isinstance(value, str) for value in kept.values()):
            raise ValueError
        if not is_public(kept["public"]) or {"name", "salt", "nonce", "secret"} - set(kept):
            raise ValueError
    except (ValueError, KeyError, TypeError, AttributeError):
        raise KeyRefused("This is no key file; vatting key NAME makes one") from None
    found: dict[str, str] = kept
    return found


def _seal(passphrase: str, salt: bytes) -> Any:
    from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305

    typed = passphrase.encode("utf-8", "surrogateescape")
    return ChaCha20Poly1305(hashlib.scrypt(typed, salt=salt, n=COST, r=BLOCK, p=LANES, maxmem=MEMORY, dklen=32))


def _bound(name: str, public: str) -> bytes:
    return json.dumps([KEY_SCHEMA, name, public]).encode("ascii")
