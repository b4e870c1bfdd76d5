"""What the book of some outputs says, to be read alone; and because of what it was last worked out."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pipeline.book.book import Book
from pipeline.book.journal import Originals
from pipeline.kept.store import Kept
from pipeline.outputs.issued import Issuer
from pipeline.runs.last_house import last_house
from pipeline.runs.plugins_told import ToldPlugin, told_plugin
from pipeline.runs.session import open_kept
from pipeline.site.house import House
from pipeline.stages.work import Worked, work


@contextmanager
def worked_last(out: Path) -> Iterator[tuple[House, Worked, Book]]:
    """The house, what its book says, and the book; nothing is taken, issued or published.

    Frames are read while it is open. Raises PluginError where nothing was taken yet.
    """
    originals = Originals(out / "originals")
    house = last_house(originals)
    with Book(out / house.site["book"], house.kinds, only_read=True) as book, open_kept(house, out, True) as kept:
        yield house, work(house, book, kept, Issuer(house, book, originals, may_issue=False)), book


def why_worked(out: Path) -> dict[str, str]:
    """Frame → for how many subjects its stage was last called, and which of its needs had changed for them.

    Raises PluginError where nothing was taken yet.
    """
    with open_kept(last_house(Originals(out / "originals")), out, only_read=True) as kept:
        return dict(kept.record("why") or {})


def last_told(out: Path, name: str, house: House) -> ToldPlugin:
    """One plugin of a house, with what some outputs know of it. Raises NotKnown with the nearest name."""
    if not (out / "log").is_dir():
        return told_plugin(house, Kept(None, ""), out, name)
    with open_kept(house, out, only_read=True) as kept:
        return told_plugin(house, kept, out, name)
