"""A package as RFC 8493 (BagIt 1.0) lays it out, in a ZIP that is the same bytes for the same contents."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping

from pipeline.common.files import sha256

DECLARATION = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
EPOCH = (1980, 1, 1, 0, 0, 0)


def bag(payload: Mapping[str, bytes], info: Mapping[str, str]) -> dict[str, bytes]:
    """Path in the package → bytes. ``payload``: paths below ``data/``; ``info``: labels of bag-info.txt.

    Paths have neither line ends nor ``%``, so that no program need unescape them.
    """
    files = {f"data/{path}": data for path, data in sorted(payload.items())}
    size = f"{sum(map(len, files.values()))}.{len(files)}"
    told = {**info, "Payload-Oxum": size}
    tags = {
        "bagit.txt": DECLARATION,
        "bag-info.txt": "".join(f"{name}: {' '.join(text.split())}\n" for name, text in told.items()).encode("utf-8"),
        "manifest-sha256.txt": _manifest(files),
    }
    return {**tags, "tagmanifest-sha256.txt": _manifest(tags), **files}


def _manifest(files: Mapping[str, bytes]) -> bytes:
    return "".join(f"{sha256(data)}  {path}\n" for path, data in sorted(files.items())).encode("utf-8")


def zipped(folder: str, files: Mapping[str, bytes]) -> bytes:
    """The package as a ZIP with one folder: no times, no owners, paths in order."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_STORED) as archive:
        for path, data in sorted(files.items()):
            entry = zipfile.ZipInfo(f"{folder}/{path}", EPOCH)
            entry.create_system, entry.external_attr = 3, 0o644 << 16
            archive.writestr(entry, data)
    return out.getvalue()
