"""A person signs a file with a key of their own: the key is made here, kept by them, and never near the files."""

from __future__ import annotations

import json
import os
from codecs import BOM_UTF8
from datetime import UTC, datetime
from pathlib import Path

from pipeline.common.errors import KeyRefused, OutputError, SettingsError
from pipeline.common.file_names import safe_name
from pipeline.common.files import sha256
from pipeline.common.keys import new_key, owner_of, signed_with
from pipeline.contract.signatures import ENDING, Signature, is_signature
from pipeline.inbox.judging import judge
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.site.house import build_house
from pipeline.site.settings_file import parse
from pipeline.site.source import FILE

MEANING = "I have read this file and stand by it; what it rules and releases in my name is mine."
KEY_ENDING = ".key.json"
OF_A_SITE = ("site.toml", "originals", "book.sqlite")


def key_folder() -> Path:
    """Where a person's keys lie unless they say otherwise: a folder of their own that only they can read."""
    return Path.home() / ".vatting"


def make_key(name: str, file: Path | None, passphrase: str) -> tuple[Path, str]:
    """Make a pair of keys for a name: where the private one was written, and the public one.

    Raises KeyRefused or OutputError, in words; a file that is there is never written over.
    """
    path = file or key_folder() / f"{safe_name(name)}{KEY_ENDING}"
    _check_apart(path)
    public, data = new_key(name, passphrase)
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise OutputError(f"{path} is there already; a key is never written over. Name another with -o.") from None
    with os.fdopen(handle, "wb") as stream:
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())
    return path, public


def _check_apart(path: Path) -> None:
    for folder in path.absolute().parents:
        if any((folder / name).exists() for name in OF_A_SITE):
            raise OutputError(f"{folder} belongs to a site; keep your key where only you can read it. Name it with -o.")


def key_file(stated: Path | None) -> Path:
    """The key file to sign with: the one stated, or the only one a person has. Raises KeyRefused."""
    if stated is not None:
        return stated
    there = sorted(key_folder().glob(f"*{KEY_ENDING}"))
    if len(there) != 1:
        found = f"there are {len(there)}" if there else "there is none; vatting key NAME makes one"
        raise KeyRefused(f"Say which key with --key: in {key_folder()} {found}")
    return there[0]


def what_is_signed(file: Path) -> list[str]:
    """What a signature of a file would be of, in lines: the file, and each ruling in it."""
    data = file.read_bytes()
    if is_signature(data):
        raise KeyRefused(f"{file.name} is a signature; sign the file that it is of")
    if file.name == FILE:
        return _settings(file, data)
    house = build_house("", None, whole=False)
    judged = judge(file.name, data, house.site, house, datetime.now(UTC).date())
    kinds = ", ".join(f"{len(rows.rows)} × {rows.kind.name}" for rows in judged.sheets)
    lines = [f"{file.name}, {len(data)} bytes, SHA-256 {sha256(data)}", f"It reads as: {kinds or judged.reason}"]
    for rows in judged.sheets:
        if rows.kind.name == RULINGS.name:
            for at in range(len(rows.rows)):
                told = {name: values[at] for name, values in rows.values.items() if values[at]}
                parts = [str(told.get(name, "–")) for name in ("ruling", "finding", "corrected_value", "reason")]
                lines.append(f"  {' · '.join(parts)} · by {told.get('by', 'nobody')}")
    return lines


def _settings(file: Path, data: bytes) -> list[str]:
    """Settings in lines: what they state. Raises KeyRefused where vatting could not use these bytes."""
    if data.startswith(BOM_UTF8):
        raise KeyRefused(f"{file} begins with a byte order mark; save it as plain UTF-8, then sign it")
    try:
        stated = parse(data.decode("utf-8"))
    except (UnicodeDecodeError, SettingsError) as error:
        raise KeyRefused(f"{file} cannot be used as settings: {error}") from error
    told = json.dumps(stated, ensure_ascii=False, indent=1, default=str).splitlines()[1:-1]
    return [f"{file.name}, {len(data)} bytes, SHA-256 {sha256(data)}", "It reads as settings:", *told]


def sign(file: Path, key: Path, passphrase: str, meaning: str = MEANING, now: datetime | None = None) -> Path:
    """Sign a file: where the signature file was written, beside it. Raises KeyRefused or OutputError."""
    kept, data = key.read_bytes(), file.read_bytes()
    who, public = owner_of(kept)
    at = (now or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="seconds")
    if not meaning.isprintable() or not file.name.isprintable():
        raise KeyRefused("The file's name and the meaning must each be one line of plain text")
    made = Signature(sha256(data), file.name, who, meaning, at, public)
    made = Signature(**{**made.__dict__, "signature": signed_with(kept, passphrase, made.message)})
    path = file.with_name(file.name + ENDING)
    try:
        with open(path, "xb") as stream:
            stream.write(made.as_file)
    except FileExistsError:
        raise OutputError(f"{path} is there already; move it away to sign anew.") from None
    return path
