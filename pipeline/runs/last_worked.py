"""What was last worked out in some outputs, and because of what."""

from __future__ import annotations

from pathlib import Path

from pipeline.book.journal import Originals
from pipeline.runs.last_house import last_house
from pipeline.runs.session import open_kept


def why_worked(out: Path) -> dict[str, str]:
    """Frame → for how many subjects its stage was last called, and which of its needs had changed for them.

    Raises PluginError where nothing was taken yet.
    """
    with open_kept(last_house(Originals(out / "originals")), out, only_read=True) as kept:
        return dict(kept.record("why") or {})
