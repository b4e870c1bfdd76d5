"""What a kept result depends on beside its data: our own code and data files, the site's plugins, the libraries."""

from __future__ import annotations

import hashlib
import sys
from collections.abc import Iterable
from functools import lru_cache
from importlib import metadata, util
from pathlib import Path

LIBRARIES = ("numpy", "pandas", "scipy", "pint", "rapidfuzz", "openpyxl", "jinja2")
OURS = ("pipeline", "plugins")
CODE = {".pyc", ".pyo"}
MADE = "__pycache__"


def environment(site_folders: Iterable[Path] = ()) -> str:
    """A digest of the code and data files of tool and plugins, of Python and of the libraries that figures rest on."""
    digest = hashlib.blake2b(_of_ours().encode(), digest_size=16)
    for folder in sorted(site_folders):
        digest.update(_of_tree(folder).encode())
    return digest.hexdigest()


@lru_cache
def _of_ours() -> str:
    digest = hashlib.blake2b(sys.version.encode(), digest_size=16)
    for name in LIBRARIES:
        try:
            digest.update(f"{name} {metadata.version(name)}".encode())
        except metadata.PackageNotFoundError:
            digest.update(f"{name} none".encode())
    for name in sorted({*OURS, *_of_others(digest)}):
        spec = util.find_spec(name)
        for place in (spec.submodule_search_locations or ()) if spec else ():
            digest.update(_of_tree(Path(place)).encode())
    return digest.hexdigest()


def _of_others(digest: hashlib.blake2b) -> set[str]:
    """The packages in which plugins of other distributions lie; which plugins there are goes into the digest."""
    entries = sorted(metadata.entry_points(group="vatting"), key=lambda entry: (entry.name, entry.value))
    digest.update(repr([(e.name, e.value, e.dist.version if e.dist else "") for e in entries]).encode())
    return {entry.module.partition(".")[0] for entry in entries}


def _of_tree(folder: Path) -> str:
    digest = hashlib.blake2b(digest_size=16)
    files = [
        path for path in folder.rglob("*") if MADE not in path.parts and path.suffix not in CODE and path.is_file()
    ]
    for path in sorted(files):
        data = path.read_bytes()
        digest.update(f"{path.relative_to(folder).as_posix()}\x1f{len(data)}\x1f".encode())
        digest.update(data)
    return digest.hexdigest()
