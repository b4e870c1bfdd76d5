"""What all pages have in common, put round each as it is written: the navigation, and how it is printed.

A page is the bytes of a whole HTML document in UTF-8; a report need not know where its page stands or what else there
is. What is put in are rules before the page's own, which win, and a ``nav`` before its contents.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from html import escape, unescape
from importlib.resources import files
from posixpath import relpath
from urllib.parse import quote

from markupsafe import Markup

from pipeline.writing.workbooks import LETTER, paper_size

TITLE = re.compile(r"<title>(.*?)</title>", re.DOTALL)
# after the link that leads past the navigation, where there is one
BODY = re.compile(r'<body[^>]*>\n?(?:<a class="skip"[^>]*>[^<]*</a>\n?)?')
STYLE = "<style>"


@dataclass(frozen=True)
class Way:
    """A word of the navigation, the page it leads to, and the folders whose pages belong to it."""

    word: str
    path: str
    anchor: str = ""
    folders: tuple[str, ...] = ()


@dataclass(frozen=True)
class Framing:
    """The ways of a house, and the markets that its paper goes by."""

    ways: tuple[Way, ...]
    markets: tuple[str, ...]

    def put_round(self, page: bytes, path: str) -> bytes:
        """The page that is to lie at ``path`` with rules and navigation; as it is where it is no whole document."""
        text = page.decode("utf-8")
        title, body = TITLE.search(text), BODY.search(text)
        if title is None or body is None or STYLE not in text[: body.start()]:
            return page
        rules = f"{STYLE}\n{_paper(self.markets, unescape(title[1]))}{_style()}"
        head = text[: body.start()].replace(STYLE, rules, 1)
        return (head + body[0] + _nav(self.ways, path) + text[body.end() :]).encode("utf-8")


def _nav(ways: Iterable[Way], path: str) -> str:
    ways = tuple(ways)
    here = _standing(ways, path)
    items = []
    for way in ways:
        to = quote(relpath(way.path, path.rpartition("/")[0] or "."))
        to += f"#{way.anchor}" if way.anchor else ""
        current = "" if way != here else ' aria-current="page"' if way.path == path else ' aria-current="true"'
        items.append(f'<li><a href="{to}"{current}>{escape(way.word)}</a></li>')
    return f'<nav class="house" aria-label="All pages"><ul>{"".join(items)}</ul></nav>\n' if items else ""


def _standing(ways: tuple[Way, ...], path: str) -> Way | None:
    """The word that a page belongs to: its own page before those whose folders it lies in."""
    own = next((way for way in ways if way.path == path and not way.anchor), None)
    return own or next((way for way in ways if path.partition("/")[0] in way.folders), None)


def _paper(markets: Iterable[str], title: str) -> str:
    """Paper and margins: pages that say ``page: wide`` lie across; the title and the page's number in the margin."""
    size = "Letter" if paper_size(markets) == LETTER else "A4"
    boxes = (
        f"@bottom-left {{ content: {css_text(title)}; font: 7.5pt sans-serif }} "
        '@bottom-right { content: "Page " counter(page) " of " counter(pages); font: 7.5pt sans-serif }'
    )
    return f"@page {{ size: {size}; margin: 14mm 13mm 16mm; {boxes} }}\n@page wide {{ size: {size} landscape }}\n"


def css_text(text: str) -> Markup:
    """A text as a string of a style sheet: whatever is no plain letter or figure by its number."""
    return Markup('"' + "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):06x}" for c in text) + '"')


def _style() -> str:
    return files("pipeline.writing").joinpath("templates", "framing.css").read_text("utf-8")
