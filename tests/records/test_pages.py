"""The pages: they escape, load nothing, need no colour, and repeat to the byte."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from pipeline.contract.findings import Place
from plugins.records import plugin, reports
from plugins.records.pages import page_index
from plugins.records.record import words
from plugins.records.record.claims import read
from tests.records.fake import World, crowd, finding, table, world

HOSTILE = "<script>alert('x')</script> \"quoted\" & <img src=x onerror=y>"
STYLE = Path(plugin.__file__).parent / "pages" / "templates" / "style.css"


@pytest.fixture
def made() -> World:
    return world()


def record_page(made: World, batch: str) -> str:
    return made.call(reports.record_html, batch, record=made.records()).decode("utf-8")


def index_page(made: World) -> str:
    return made.call(reports.index_html, record=made.records()).decode("utf-8")


def all_pages(made: World) -> list[str]:
    return [index_page(made), *(record_page(made, batch) for batch in made.batches())]


class Tags(HTMLParser):
    """All start tags with their attributes, and whether every element was closed in order."""

    VOID = ("meta", "br", "img", "input", "link", "hr")

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open and self.open[-1] == tag, f"</{tag}> closes {self.open[-3:]}"
        self.open.pop()


def test_hostile_text_is_escaped_everywhere(made: World) -> None:
    """Text from sheets, file names, plugins and rulings never becomes markup."""
    for name in ("components", "component_ages"):
        frame = made.frames[name]
        assert frame is not None
        made.frames[name] = frame.replace({"C-0125": HOSTILE, "weighed": HOSTILE})
    for name, column in (
        ("briefs", "product"),
        ("labels", "reason"),
        ("labels", "claim"),
        ("labels", "facts_used"),
        ("notes", "text"),
        ("notes", "taster"),
        ("figures_to_check", "slip"),
        ("balances", "basis"),
        ("components", "strength_source"),
    ):
        made.frames[name] = made.frames[name].assign(**{column: HOSTILE})
    said = finding(
        HOSTILE,
        "stop",
        HOSTILE,
        subject=HOSTILE,
        batch="B-26-01",
        observed=HOSTILE,
        remedy=HOSTILE,
        rule=HOSTILE,
        place=Place(HOSTILE, HOSTILE, "A1"),
    )
    made.findings.append(said)
    made.published = {HOSTILE: {"haze": table([{"batch": "B-26-01", HOSTILE: HOSTILE, "facts": (1,)}])}}
    made.run.problems.append(HOSTILE)
    made.run.files[2] = replace(made.run.files[2], name=HOSTILE, reason=HOSTILE)
    made.site.values["house"] = HOSTILE
    for text in (index_page(made), record_page(made, "B-26-01")):
        parsed = Tags(text)
        scripts = [attributes for tag, attributes in parsed.tags if tag == "script"]
        assert scripts in ([], [{"src": "looked.js"}]) and "img" not in {tag for tag, _ in parsed.tags}
        assert not any(name.startswith("on") for _, attributes in parsed.tags for name in attributes)
        assert text.count("&lt;script&gt;") >= 5


def test_pages_load_nothing_and_run_nothing(made: World) -> None:
    """No page names another host, a script, a font, an image or a style outside itself, and its policy forbids them.

    The one thing loaded is the watcher's sign of life beside the first page.
    """
    own = '<script src="looked.js"></script>'
    for text in all_pages(made):
        first = own in text
        assert not re.search(
            r"https?:|//[a-z]|@import|url\(|<script|<link|<img|<iframe|javascript:", text.replace(own, "", 1)
        )
        policies = [a["content"] for tag, a in Tags(text).tags if a.get("http-equiv") == "Content-Security-Policy"]
        strict = "default-src 'none'; style-src 'unsafe-inline'"
        assert policies == [strict + ("; script-src 'self' file:" if first else "")]
    assert own in index_page(made)


def test_pages_are_well_formed_and_can_be_walked_by_keyboard(made: World) -> None:
    """Every element closes, ids are unique, links inside the page lead somewhere, headings start with one h1."""
    for text in all_pages(made):
        parsed = Tags(text)
        assert parsed.open == []
        ids = [attributes["id"] for _, attributes in parsed.tags if "id" in attributes]
        assert len(ids) == len(set(ids))
        targets = [
            attributes["href"] for _, attributes in parsed.tags if str(attributes.get("href", "")).startswith("#")
        ]
        assert targets and all(str(target)[1:] in ids for target in targets)
        assert [tag for tag, _ in parsed.tags].count("h1") == 1
        assert ("html", {"lang": "en"}) in parsed.tags


def test_links_of_the_first_page_lead_to_files_by_their_safe_names(made: World) -> None:
    """A batch whose name no folder can have is linked under the name that the engine gives its folder."""
    frame = made.frames["components"]
    assert frame is not None
    for name, table_ in list(made.frames.items()):
        if table_ is not None and "batch" in table_:
            made.frames[name] = table_.replace({"batch": {"B-26-01": "B/26:1"}})
    text = index_page(made)
    assert re.search(r'href="batches/B_26_1-[0-9a-f]{8}/record\.html">B/26:1<', text)
    assert 'href="returned/holiday%20list.xlsx.why.txt"' in text


def test_status_verdict_and_severity_are_words(made: World) -> None:
    """Each mark carries its word and a shape of its own, so that colour is never the only signal."""
    text = index_page(made) + "".join(record_page(made, batch) for batch in made.batches())
    shapes = dict(
        re.findall(
            r'<span class="mark is-[a-z-]+"><svg aria-hidden="true"><use href="#(m-[a-z-]+)"/></svg>([^<]+)</span>',
            text,
        )
    )
    marks = re.findall(r'<use href="#(m-[a-z-]+)"/></svg>([^<]+)</span>', text)
    words_found = {word for _, word in marks}
    assert {
        "held",
        "in review",
        "reconciled",
        "released",
        "met",
        "not met",
        "cannot tell",
        "stop",
        "review",
        "note",
    } <= words_found
    assert len(shapes) == 8
    assert {shape for shape, word in marks if word in ("met", "not met", "cannot tell")} == {
        "m-met",
        "m-not-met",
        "m-cannot-tell",
    }


def luminance(colour: str) -> float:
    """Relative luminance of sRGB as WCAG 2.2 defines it."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def palettes() -> list[dict[str, str]]:
    """Each block of colours in the style sheet: light, dark and print."""
    blocks = re.findall(r":root \{(.*?)\}", STYLE.read_text(encoding="utf-8"), re.S)
    found = [dict(re.findall(r"--([\w-]+): (#[0-9a-f]{3,6})", block)) for block in blocks]
    return [
        {name: "#" + "".join(c * 2 for c in value[1:]) if len(value) == 4 else value for name, value in block.items()}
        for block in found
    ]


@pytest.mark.parametrize("colours", palettes(), ids=["light", "dark", "print"])
def test_text_has_the_contrast_that_wcag_asks_for(colours: dict[str, str]) -> None:
    """Every colour of text has at least 4.5 to 1 on the paper and the sheet (WCAG 2.2, 1.4.3, level AA)."""
    for name in ("ink", "soft", "stop", "review", "note", "good", "sent"):
        for ground in ("paper", "sheet"):
            light, dark = sorted((luminance(colours[name]), luminance(colours[ground])), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (name, ground)


def test_figures_are_shown_to_the_places_that_the_trade_reads(made: World) -> None:
    """Proof and gallons are shown to a tenth, % vol to a hundredth, with both systems on the page."""
    record = made.record("B-26-01")
    gauged = record["balance"]["gauged"]
    text = record_page(made, "B-26-01")
    assert f">{gauged['proof_60F']:.1f} <small>proof at 60\u00a0°F" in text
    assert f"{gauged['abv_20C']:.2f} % vol at 20\u00a0°C" in text
    for unit in ("wine gallons at 60\u00a0°F", "litres at 20\u00a0°C", "proof gallons", "LPA"):
        assert unit in text
    assert not re.search(r"(?<!CFR )\b\d+\.\d{3}", re.sub(r"<style>.*?</style>|<svg.*?</svg>", "", text, flags=re.S))


def test_a_market_that_is_not_the_us_reads_metric_first(made: World) -> None:
    """For the UK, % vol at 20 °C and LPA stand large, proof and gallons beside them."""
    text = record_page(made, "B-26-03")
    assert re.search(r'class="big">[\d.]+ <small>% vol at 20', text)
    assert re.search(r'class="also">[\d.]+ proof at 60', text)


def test_cautions_stand_on_every_page(made: World) -> None:
    """Each page says that it is a control record, gives no legal advice and warns of vapour."""
    for text in all_pages(made):
        assert "ot a return, and not accepted by any authority" in text
        assert "no legal advice" in text
        assert "vapour that ignites" in text
    assert "is not an accusation" in record_page(made, "B-26-02")


def test_a_gauge_that_is_missing_is_said_and_not_filled(made: World) -> None:
    """A batch not yet gauged says so and shows what is expected as expected."""
    text = record_page(made, "B-26-04")
    assert "Not gauged yet; never filled from what is expected." in text
    assert "expected, not yet gauged" in text


def test_first_page_caps_what_it_shows_and_counts_all(made: World) -> None:
    """Of 5,000 findings the most severe are shown, all are counted, and the workbook is named."""
    text = index_page(crowd(made, 3, 5000))
    assert text.count('<p class="says">') == page_index.MOST_FINDINGS
    stop, review = 1667 + 3, 1667 + 1
    assert f"<b>{stop}</b>" in text and f"<b>{review}</b>" in text
    assert f"{stop + review - page_index.MOST_FINDINGS:,} further findings" in text
    assert "exceptions/open.xlsx" in text
    assert len(text.encode()) < 400_000


def test_first_page_of_nothing_is_a_calm_page(made: World) -> None:
    """With no batch, no finding and no file the page says that nothing waits for you."""
    empty = World({"components": None}, [], replace(made.run, files=[], releases={}, history=[]), site=made.site)
    text = empty.call(reports.index_html, record={}).decode()
    assert "Nothing waits for you" in text and "Nothing has been drawn for a batch yet." in text


def test_problems_stand_at_the_top(made: World) -> None:
    """A plugin that did not load is named above the batches."""
    made.run.problems.append("Plugin hazes was left out: no module named haze.")
    text = index_page(made)
    assert text.index("Plugin hazes was left out") < text.index('id="needs"')


def test_first_page_lists_held_batches_first_and_briefs_not_yet_drawn(made: World) -> None:
    """Batches come by status, held first; a brief of which nothing is drawn is named with its due date."""
    briefs = made.frames["briefs"]
    assert briefs is not None
    made.frames["briefs"] = table(
        [*briefs.to_dict("records"), {"batch": "B-26-09", "due": "2026-06-01", "facts": (9,)}]
    )
    text = index_page(made)
    order = re.findall(r'<a href="batches/[^"]+">(B-[\d-]+)</a><small>', text)
    assert order == ["B-26-02", "B-26-03", "B-26-04", "B-26-01", "B-25-11"]
    assert "<b>B-26-09</b> (due 2026-06-01)" in text


@pytest.mark.long
def test_pages_repeat_to_the_byte(made: World) -> None:
    """Equal facts give equal pages, without carriage returns."""
    assert all_pages(made) == all_pages(world())
    assert not any("\r" in text for text in all_pages(made))


def test_many_components_are_grouped_by_year(made: World) -> None:
    """Above a page's worth of components the ages are counted by whole year: two and 40 more of 5 years."""
    ages: Any = made.frames["component_ages"]
    one = ages[ages["batch"] == "B-26-01"]
    many = [row | {"component": f"K-{n}", "line": str(n)} for n in range(40) for row in one.to_dict("records")[:1]]
    made.frames["component_ages"] = table([*one.to_dict("records"), *many])
    assert "42 components" in record_page(made, "B-26-01")


@pytest.mark.parametrize(
    ("value", "places", "wanted"),
    [
        (100.05, 1, "100.1"),
        (0.25, 1, "0.3"),
        (-0.04, 1, "0.0"),
        (-0.05, 1, "−0.1"),
        (1234567.891, 2, "1,234,567.89"),
        (None, 1, "–"),
    ],
)
def test_shown_figures_are_rounded_half_up(value: float | None, places: int, wanted: str) -> None:
    """A shown figure is rounded half up on its decimal digits, with thousands apart and a true minus."""
    assert words.number(value, places) == wanted


def test_rows_are_told_as_ranges() -> None:
    """Row numbers are shown as ranges, each once."""
    assert words.ranges([9, 2, 3, 4, 4, 12, 11]) == "2–4, 9, 11–12"
    assert words.listing(["a", "b", "c"]) == "a, b and c" and words.listing(["a"]) == "a"


def test_a_subject_is_not_said_twice() -> None:
    """Beside batch and file a finding's subject is left out, or cut down to what they do not say."""
    assert words.of("B-1", "B-1", "x.csv") == "" and words.of("x.csv", "", "x.csv") == ""
    assert words.of("B-1 · US · straight", "B-1", "") == "US · straight" and words.of("C-1", "B-1", "") == "C-1"


def ground(part: str, says: str, **more: Any) -> dict[str, Any]:
    nothing = dict.fromkeys(("section", "holds", "under", "subject", "found", "looked_at", "lacking", "read_on"))
    return {"batch": "B-26-03", "market": "UK", "claim": "single malt", "part": part, "says": says,
            "facts": (1002,), **nothing, **more}  # fmt: skip


GROUNDS = [
    ground("missing", "still of 2 casks", looked_at="column still of the inventory", lacking=2),
    ground("demand", "it is whisky", holds="met", section="Reg. 1"),
    ground("demand", "of grain", holds="met", section="Reg. 2", under="it is whisky"),
    ground("demand", "from pot stills", holds="cannot tell", section="Reg. 3", found="the still\nis not known"),
    ground("law", "the Regulations as made", section="Reg. 3", read_on="2026-11-30"),
]


def test_grounds_are_folded_under_the_first_sentence(made: World) -> None:
    """The first sentence stands open without its verdict; the grounds are short rows in a fold, the worst first."""
    reason = "Cannot tell: the still is not known. It is to be shown that it came from pot stills."
    labels = made.frames["labels"]
    assert labels is not None
    labels = labels.assign(reason=labels["reason"].mask(labels["claim"] == "single malt", reason))
    made.frames["labels"] = labels.assign(opening=[said.find(" It is to be shown") for said in labels["reason"]])
    made.frames["grounds"] = pd.DataFrame(GROUNDS)
    record = made.record("B-26-03")
    for report in (reports.record_html, reports.label_html):
        page = made.call(report, "B-26-03", record={"B-26-03": record}).decode()
        part = page[page.index('<span class="claim">single malt</span>') :]
        shown, _, folded = part.partition("<details")
        assert "<p>The still is not known.</p>" in shown and "It is to be shown" not in part
        assert "Grounds: 1 fact missing, 2 demands (1 cannot tell)</summary>" in folded
        words = [row["says"] for row in GROUNDS]
        places = [folded.index(says) for says in (words[0], words[3], words[1], words[2], words[4])]
        assert places == sorted(places) and folded.index("is not known</small>") < folded.index(words[1])
        assert "read 2026-11-30" in folded and '<li class="under">' in folded


def test_a_reason_without_grounds_is_folded_whole() -> None:
    """Where no rows of grounds stand for a verdict the rest of its reason does; a verdict is not said twice."""
    claim = {"market": "US", "claim": "a", "verdict": "not met", "reason": "Not met: it is too young. By a day."}
    label = pd.DataFrame([claim | {"opening": 25, "facts": (1,)}])
    (shown,) = read([claim], label, None)
    assert (shown["said"], shown["more"], shown["parts"]) == ("It is too young.", "By a day.", [])
    (bare,) = read([claim | {"reason": "All is well."}], None, None)
    assert (bare["said"], bare["more"]) == ("All is well.", "")
