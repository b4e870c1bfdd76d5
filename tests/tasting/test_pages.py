"""The pages: words marked in notes, no network, figures of tasters only where the site says so."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from pipeline.runs.run import run
from pipeline.writing.pages import figure
from plugins.tasting.pages.drawing import PAGES, marked

SHEETS = {
    "casks.csv": "Cask,Filled,Spirit,Wood,Toast,Fill,Bin\n"
    + "".join(f"C-{n},2019-05-{n + 1:02d},Malt,oak,heavy,refill,A-{n}\n" for n in range(8)),
    "tastings.csv": "Sample,Taster,Date,Session,Order,Nose,Palate,Finish,Score,Nosing % vol,Decision\n"
    + "".join(
        f'C-{n},{taster},2026-03-03,P/1,{n + 1},"vanila, {"no smoke" if n % 2 else "huge smoke!"}",'
        f'"sweet, oak?","long",{5 + n % 4 + shift},20,{"use" if n > 4 else "hold"}\n'
        for n in range(7)
        for shift, taster in enumerate(("Ada", "Bea", "Cy"))
    ),
}


def published(tmp_path: Path, more: str = "") -> Path:
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    (inbox / "site.toml").write_text(f'house = "Test <house>"\ntimezone = "UTC"\nmarkets = ["EU"]\n{more}', "utf-8")
    for name, text in SHEETS.items():
        (inbox / name).write_text(text, "utf-8")
    result = run(inbox, tmp_path / "out", now=datetime(2026, 11, 1, tzinfo=UTC))
    assert [finding.code for finding in result.worked.findings if "failed" in finding.code] == []
    return tmp_path / "out"


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return published(tmp_path_factory.mktemp("pages"))


def text(out: Path, pattern: str) -> str:
    (path,) = out.glob(pattern)
    return path.read_text("utf-8")


def test_every_page_stands_without_a_network(out: Path) -> None:
    """No page of tasting loads anything; only the table of casks has a script, which its policy names by hash."""
    pages = [*out.glob("tastings/**/*.html"), *out.glob("casks/*/cask.html"), out / "casks/casks.html"]
    assert len(pages) >= 12
    for path in pages:
        html = path.read_text("utf-8")
        assert "http://" not in html and "https://" not in html and " src=" not in html
        assert ("<script" in html) == (path.name == "casks.html")
        assert "Test &lt;house&gt;" in html and "Test <house>" not in html
    assert re.search(r"script-src 'sha256-[\w+/=]{44}'", text(out, "casks/casks.html"))


def test_session_page_and_panel(out: Path) -> None:
    """The session's page shows its figures, and panel.json gives them for programs; nobody's own figures are there."""
    html, panel = text(out, "tastings/P*/session.html"), json.loads(text(out, "tastings/P*/panel.json"))
    assert panel["schema"] == "vatting.panel/1" and panel["session"] == "P/1"
    assert (panel["samples"], panel["tasters"]) == (7, 3)
    score = next(row for row in panel["agreement"] if row["family"] == "score")
    assert set(score["icc"]) == {"ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)"}
    assert score["icc"]["ICC(3,1)"] == pytest.approx(1.0, abs=1e-9)
    assert score["icc"]["ICC(2,1)"] < 0.9
    smoke = panel["profiles"][0]["families"]["smoke_peat"]["all"]
    assert smoke["low"] <= smoke["mean"] <= smoke["high"] and smoke["method"] == "model"
    assert "taster_differences" not in panel and "Tasters who differ" not in html
    assert "ICC(2,1)" in html and "20 % vol" in html


def test_cask_page(out: Path) -> None:
    """A cask's page has its profile with intervals, its notes with the words marked, its diary, and no other cask."""
    html = text(out, "casks/C-1/cask.html")
    assert '<mark class="no" title="smoke peat, not there">smoke</mark>' in html
    assert 'title="vanilla cream, read as vanilla">vanila</mark>' in html
    assert '<mark class="maybe" title="oak wood, doubtful">oak</mark>' in html
    for words in ("filled with Malt, oak refill", "95 % interval", "Ada: leave", 'href="../likeness.html#C-1"'):
        assert words in html
    assert not re.search(r"C-[02-9]", html)
    assert '<mark class="strong"' in text(out, "casks/C-2/cask.html")


def test_casks_beside_each_other(out: Path) -> None:
    """Each tasted cask has a line with its place among all, and the casks most like it with the noise beside them."""
    html = text(out, "casks/likeness.html")
    assert html.count("<tr id=") == 7 and '<tr id="C-1">' in html and "C-7" not in html
    assert "1 of 7" in html and "most like it" in html and 'href="C-2/cask.html"' in html and "noise" in html


def test_a_cask_that_nobody_tasted_has_the_cellars_page(out: Path) -> None:
    """An untasted cask has no page of taste: the table of casks leads to its volume and strength."""
    assert not (out / "casks/C-7/cask.html").exists() and (out / "casks/C-7/history.html").exists()
    table = text(out, "casks/casks.html")
    assert 'href="C-7/history.html"' in table and 'href="C-1/cask.html"' in table
    assert 'href="cask.html"' not in text(out, "casks/C-7/history.html")
    assert 'href="cask.html"' in text(out, "casks/C-1/history.html") and 'href="history.html"' in text(
        out, "casks/C-1/cask.html"
    )


def test_table_of_casks(out: Path) -> None:
    """Every cask is a row with keys to sort by; headings are buttons; decisions are words, not colours alone."""
    html = text(out, "casks/casks.html")
    assert html.count('<tr><th scope="row" class="wide"') == 8
    assert html.count('<button type="button">') == 12 and "aria-sort" in html
    assert ">leave</span>" in html and ">use</span>" in html
    assert "window.print()" in html and "@media print" in html


@pytest.mark.long
def test_own_pages_and_what_the_site_may_say(out: Path, tmp_path: Path) -> None:
    """Each taster has a page with that taster's figures only; a site may show all, or none at all."""
    own = sorted(path.name for path in out.glob("tastings/own/*.html"))
    assert own == ["Ada.html", "Bea.html", "Cy.html"]
    assert "Bea" not in text(out, "tastings/own/Ada.html")
    (tmp_path / "all").mkdir()
    (tmp_path / "none").mkdir()
    shown = published(tmp_path / "all", '[plugins.tasting]\ntaster_figures = "all"\n')
    assert "Tasters who differ" in text(shown, "tastings/panel.html")
    assert json.loads(text(shown, "tastings/panel.json"))["taster_differences"]
    assert "Tasters who differ" not in text(out, "tastings/panel.html")
    assert "taster_differences" not in json.loads(text(out, "tastings/panel.json"))
    hidden = published(tmp_path / "none", '[plugins.tasting]\ntaster_figures = "none"\n')
    assert not list(hidden.glob("tastings/own/*"))


@pytest.mark.long
def test_the_same_twice(out: Path, tmp_path: Path) -> None:
    """Equal sheets give equal bytes of every tasting page."""
    again = published(tmp_path)
    for path in [*out.glob("tastings/**/*"), *out.glob("casks/**/*")]:
        if path.is_file():
            assert path.read_bytes() == (again / path.relative_to(out)).read_bytes(), path.name


def test_words_marked_and_figures() -> None:
    """What stands around a marked word is escaped; figures have a true minus and no minus zero."""
    hit = {"start": 2, "end": 5, "negated": False, "doubtful": False, "striking": False, "family": "oak_wood",
           "respelt": False, "compared": "more", "reference": "<14>", "weight": 0.3, "term": "oak"}  # fmt: skip
    made = str(marked("< oak >", [hit]))
    assert made.startswith("&lt; <mark") and made.endswith("</mark> &gt;") and "&lt;14&gt;" in made
    assert (figure(-1.24), figure(-0.04), figure(None)) == ("−1.2", "0.0", "–")
    assert PAGES.page("words.html", {"house": "H", "new_words": [], "same_things": []}).startswith(b"<!doctype html>")
