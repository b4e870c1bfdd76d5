"""The tasting pages, and words marked in notes."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup, escape

from pipeline.writing.pages import Pages
from pipeline.writing.spoken import spoken

ENDS = {"body": ("thin", "oily"), "length_balance": ("short", "long"), "sweetness": ("dry", "sweet")}


def marked(text: str, hits: list[dict[str, Any]]) -> Markup:
    """A note with the words that were understood marked: what each is, and how it is meant, in its title.

    Said, denied, doubtful and striking words differ in how they are underlined, not in colour alone.
    """
    made: list[str] = []
    at = 0
    for hit in hits:
        kind = "no" if hit["negated"] else "maybe" if hit["doubtful"] else "strong" if hit["striking"] else "yes"
        word = escape(text[hit["start"] : hit["end"]])
        made.append(escape(text[at : hit["start"]]))
        made.append(f'<mark class="{kind}" title="{escape(_title(hit))}">{word}</mark>')
        at = hit["end"]
    made.append(escape(text[at:]))
    return Markup("".join(made))  # each part is escaped: thousands of words, and Markup.format costs four times that


def _title(hit: dict[str, Any]) -> str:
    told = [spoken(hit["family"])]
    if hit["respelt"]:
        told.append(f"read as {hit['term']}")
    if hit["negated"]:
        told.append("less" if hit["compared"] == "less" else "not there")
    if hit["doubtful"]:
        told.append("doubtful")
    if hit["striking"]:
        told.append("striking")
    if hit["weight"] != 1:
        told.append("a little" if hit["weight"] < 1 else "much")
    if hit["compared"] and not hit["negated"]:
        told.append(f"{hit['compared']} than {hit['reference'] or 'another'}".replace("same than", "as much as"))
    return ", ".join(told)


PAGES = Pages("plugins.tasting.pages", spoken=spoken, marked=marked)
PAGES.environment.globals["ends"] = ENDS
