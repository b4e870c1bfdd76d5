"""What is put round each page: the navigation with where the page stands, its paper, its title in the margin."""

from __future__ import annotations

import pytest

from pipeline.writing.framing import Framing, Way

PAGE = b"""<!doctype html>
<html lang="en"><head><title>C-1 &amp; "C-2"</title>
<style>
p { color: red }
</style></head>
<body>
<a class="skip" href="#main">To the contents</a>
<main id="main">Contents</main></body></html>
"""
WAYS = (
    Way("start", "index.html"),
    Way("batches", "index.html", "batches", ("batches",)),
    Way("casks", "casks/casks.html", folders=("casks",)),
    Way("cellar", "casks/cellar.html"),
)


@pytest.mark.parametrize(
    ("path", "links", "here"),
    [
        ("index.html", ["index.html", "index.html#batches", "casks/casks.html"], 'index.html" aria-current="page"'),
        ("casks/cellar.html", ["../index.html", "casks.html"], 'cellar.html" aria-current="page"'),
        ("casks/C 1/cask.html", ["../../index.html", "../cellar.html"], '../casks.html" aria-current="true"'),
        ("batches/B/record.html", ["../../index.html#batches"], 'index.html#batches" aria-current="true"'),
    ],
)
def test_links_lead_from_where_the_page_lies(path: str, links: list[str], here: str) -> None:
    text = Framing(WAYS, ()).put_round(PAGE, path).decode()
    for link in links:
        assert f'<a href="{link}"' in text
    assert text.count("aria-current=") == 1 and here in text
    assert text.index("skip") < text.index("<nav") < text.index("<main")


@pytest.mark.parametrize(("markets", "size"), [(("US",), "Letter"), (("US", "EU"), "A4"), ((), "A4")])
def test_paper_goes_by_the_markets(markets: tuple[str, ...], size: str) -> None:
    text = Framing(WAYS, markets).put_round(PAGE, "index.html").decode()
    assert f"@page {{ size: {size};" in text and f"@page wide {{ size: {size} landscape }}" in text


def test_title_in_the_margin_ends_no_string_and_own_rules_come_last() -> None:
    text = Framing(WAYS, ()).put_round(PAGE, "index.html").decode()
    assert r'content: "C\00002d1\000020\000026\000020\000022C\00002d2\000022"' in text
    assert text.index("@page") < text.index("p { color: red }")


def test_what_is_no_whole_page_stays_as_it_is() -> None:
    for data in (b"", b"<p>hello</p>", b"<html><body>no style, no title</body></html>"):
        assert Framing(WAYS, ()).put_round(data, "x.html") == data
