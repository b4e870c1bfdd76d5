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
    return hashlib.blake2b(repr(sorted(parts().items())).encode(), digest_size=16).hexdigest()


@lru_cache
def parts() -> dict[str, str]:
    """What runs, by name: version of Python and of each library, digest of the code of tool and plugins."""
    made = {"Python": sys.version.split()[0]}
    for name in LIBRARIES:
        try:
            made[f"library {name}"] = metadata.version(name)
        except metadata.PackageNotFoundError:
            made[f"library {name}"] = "none"
    entries = sorted(metadata.entry_points(group="vatting"), key=lambda entry: (entry.name, entry.value))
    made |= {f"entry {e.name}": f"{e.value} {e.dist.version if e.dist else ''}".strip() for e in entries}
    for name in sorted({*OURS, *(entry.module.partition(".")[0] for entry in entries)}):
        spec = util.find_spec(name)
        for place in (spec.submodule_search_locations or ()) if spec else ():
            made[f"code of {name}"] = _of_tree(Path(place))
    return made


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
