"""What a signature file holds: who signed which file, with what meaning and when.

The text that is signed has one line a field, so that nothing is written anew before it is checked.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

SCHEMA = "vatting.signature/1"
ENDING = ".signature.json"
LARGEST = 20_000  # bytes; a signature file has some hundred
FIELDS = ("file", "name", "who", "meaning", "at", "public")


@dataclass(frozen=True)
class Signature:
    """What a signature file says: SHA-256 and name of the file, who, meaning, time (UTC), public key, signature."""

    file: str
    name: str
    who: str
    meaning: str
    at: str
    public: str
    signature: str = ""

    @property
    def message(self) -> bytes:
        """The bytes that are signed."""
        return "\n".join([SCHEMA, *(f"{name}: {getattr(self, name)}" for name in FIELDS), ""]).encode("utf-8")

    @property
    def as_file(self) -> bytes:
        """The bytes of the signature file."""
        return (json.dumps({"schema": SCHEMA, **asdict(self)}, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def is_signature(data: bytes) -> bool:
    """Whether a file means to be a signature file."""
    return len(data) <= LARGEST and data[:1] == b"{" and SCHEMA.encode("ascii") in data


def read_signature(data: bytes) -> Signature:
    """The signature of a signature file. Raises ValueError that says what is wrong."""
    try:
        told = json.loads(data)
    except ValueError:
        raise ValueError("it is no whole JSON object") from None
    names = (*FIELDS, "signature")
    if not isinstance(told, dict) or set(told) != {"schema", *names} or told["schema"] != SCHEMA:
        raise ValueError(f"it must have just these fields: schema, {', '.join(names)}")
    if not all(isinstance(told[name], str) and told[name].isprintable() for name in names):
        raise ValueError("each field must be one line of text")
    if not re.fullmatch(r"[0-9a-f]{64}", told["file"]) or not re.fullmatch(r"[0-9a-f]{64}", told["public"]):
        raise ValueError("file and public must be 64 hex digits")
    return Signature(**{name: told[name] for name in names})


def signature_of(told: Mapping[str, Any]) -> Signature:
    """The signature that a journal line keeps."""
    return Signature(**{name: str(told[name]) for name in (*FIELDS, "signature")})
