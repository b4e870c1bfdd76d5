"""Names for files that every system can bear."""

from __future__ import annotations

import re
from pathlib import Path

from pipeline.common.files import sha256

MARK = ".vatting.outputs"  # lies in an inbox that files leave
RESERVED_NAMES = {"con", "prn", "aux", "nul", *(f"com{n}" for n in range(1, 10)), *(f"lpt{n}" for n in range(1, 10))}


def safe_name(text: str) -> str:
    """A value as a file or folder name on every system; cleaned names of unlike values stay unlike."""
    cleaned = re.sub(r'[<>:"/\\|?*\x00-\x1f]', "_", text).strip(" .") or "_"
    if cleaned.casefold().split(".")[0] in RESERVED_NAMES:
        cleaned = "_" + cleaned
    if cleaned != text or len(cleaned.encode("utf-8")) > 150:
        while len(cleaned.encode("utf-8")) > 140:
            cleaned = cleaned[:-1]
        cleaned = f"{cleaned}-{sha256(text.encode('utf-8'))[:8]}"
    return cleaned


def short_name(name: str) -> str:
    """A name for ``returned/``: over 200 bytes it is shortened with eight digits of its hash."""
    cleaned = re.sub(r'[<>:"/\\|?*\x00-\x1f]', "_", name).strip() or "_"
    if len(cleaned.encode("utf-8")) <= 200:
        return cleaned
    stem, ending = Path(cleaned).stem, Path(cleaned).suffix[:12]
    while len(stem.encode("utf-8")) > 180:
        stem = stem[:-1]
    return f"{stem}-{sha256(name.encode('utf-8', 'surrogateescape'))[:8]}{ending}"
