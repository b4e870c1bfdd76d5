"""Every page of the example's outputs is reached by clicking from the first, and no link leads nowhere."""

from __future__ import annotations

from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urldefrag, urlsplit

import pytest

from tests.made_once import demo

OF_ONE_TASTER = "tastings/own/"  # each taster's own: linked only where the site shows figures to all


class Links(HTMLParser):
    """The targets of all links and the anchors of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.anchors: set[str] = set()
        self.navs = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        self.navs += tag == "nav" and told.get("class") == "house"
        if told.get("id"):
            self.anchors.add(str(told["id"]))
        if tag == "a" and told.get("href"):
            self.links.append(str(told["href"]))


def walk(out: Path) -> tuple[dict[str, Links], list[str]]:
    """The pages that are reached from index.html, and the links that lead nowhere."""
    pages: dict[str, Links] = {}
    ahead = ["index.html"]
    while ahead:
        path = ahead.pop()
        if path not in pages:
            pages[path] = Links((out / path).read_text("utf-8"))
            ahead += [to for to, _ in targets(out, path, pages[path]) if to.endswith(".html") and (out / to).is_file()]
    lost = [
        f"{path} → {to}#{anchor}"
        for path, page in pages.items()
        for to, anchor in targets(out, path, page)
        if not (out / to).exists() or (anchor and to in pages and anchor not in pages[to].anchors)
    ]
    return pages, lost


def targets(out: Path, path: str, page: Links) -> Iterator[tuple[str, str]]:
    for link in page.links:
        address, anchor = urldefrag(link)
        assert not urlsplit(address).scheme, f"{path} links outside: {link}"
        to = (out / path).parent / unquote(address) if address else out / path
        yield to.resolve().relative_to(out.resolve()).as_posix(), anchor


@pytest.mark.long
def test_every_page_is_reached_and_no_link_leads_nowhere() -> None:
    out = demo()[0]
    pages, lost = walk(out)
    assert lost == []
    lying = {path.relative_to(out).as_posix() for path in out.rglob("*.html")}
    assert len(lying) > 600
    assert sorted(path for path in lying - pages.keys() if not path.startswith(OF_ONE_TASTER)) == []
    assert {path for path in pages if path.startswith(OF_ONE_TASTER)} == set()
    assert {path: page.navs for path, page in pages.items() if page.navs != 1} == {}


@pytest.mark.long
def test_the_navigation_names_what_the_house_has() -> None:
    page = (demo()[0] / "index.html").read_text("utf-8")
    nav = page[page.index('<nav class="house"') : page.index("</nav>")]
    words = ("start", "batches", "casks", "tastings", "bench", "cellar", "accounts")
    assert [part.partition("</a>")[0].rpartition(">")[2] for part in nav.split("<li>")[1:]] == list(words)
