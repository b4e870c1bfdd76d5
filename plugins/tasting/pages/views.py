"""What each tasting page shows, as plain values for its template."""

from __future__ import annotations

from typing import Any

from pipeline.common.names import fold
from plugins.tasting.declared.frames_panel import FORM_COLUMNS, FORMS
from plugins.tasting.declared.kinds import FAMILIES
from plugins.tasting.pages.tasting_book import Book, Row, lines, page_of
from plugins.tasting.panel.arithmetic import SCORE

METHOD = (
    "Filled bars: tasters' leniency and scale use taken out, drawn to the house's level where little is known. Dashed "
    "bars: the mean over the tasters, whose spread is taken from the house; with one or two tasters only none, some or "
    "strong can be said. The bar is the 95 % interval, the stroke the middle. Intensities come from words by weights "
    "that are the house's proposals, not measurements."
)
HEADINGS = (
    *("cask", "make", "wood", "place", "age", "proof", "score", "strongest", "faults and maturity"),
    *("decision", "taste next", "group"),
)
MOST_UNLIKE = 10
TARGET_SHOWN = 5


def wood_of(cask: Row | None) -> str:
    """Wood, use, toast, char and what it held, in a line."""
    if not cask:
        return ""
    told = [cask["species"], cask["fill"]]
    told += [f"{name} {cask[name]}" for name in ("toast", "char") if cask[name] and cask[name] != "none"]
    told += [f"held {cask['held']}"] if cask["held"] else []
    return ", ".join(str(word) for word in told if word)


def _samples(session: str, book: Book) -> list[Row]:
    """The session's samples in the order served, each with its profile, score and tastings."""
    mine: dict[str, list[Row]] = {}
    for tasting in book.in_session.get(fold(session), []):
        mine.setdefault(fold(tasting["sample"]), []).append(tasting)
    made = []
    for key, tastings in mine.items():
        cask = book.casks.get(fold(tastings[0]["drawn_from"]))
        made.append(
            {
                "name": tastings[0]["sample"],
                "key": key,
                "cask": cask["cask"] if cask else "",
                "wood": wood_of(cask),
                "score": book.scores.get(key),
                "lines": lines(book.profiles.get(key, [])),
                "tastings": tastings,
            }
        )
    return made


def _step(mean: float | None) -> int:
    """How a cell of the overview is drawn: 0 bare to 3 dark."""
    return 0 if mean is None or mean < 1.0 else 1 if mean < 3.0 else 2 if mean < 5.0 else 3


def session(name: str, book: Book, site: Any) -> Row:
    """The page of a session."""
    key = fold(name)
    samples = _samples(name, book)
    present = {line["family"] for sample in samples for line in sample["lines"]}
    families = [family for family in FAMILIES if family in present]
    for sample in samples:
        means = {line["family"]: line["mean"] for line in sample["lines"]}
        sample["cells"] = [{"mean": means.get(family), "step": _step(means.get(family))} for family in families]
    agreement = book.agreement.get(key, [])
    measured = [row for row in agreement if row["icc_2_1"] is not None]
    own = {sample["key"] for sample in samples}
    return {
        "house": site.house,
        "session": book.sessions[key],
        "samples": samples,
        "families": families,
        "measured": sorted(measured, key=lambda row: (row["family"] != SCORE, -row["icc_2_1"])),
        "no_figure": agreement[0]["said"].capitalize() + "." if agreement else "Nobody gave a figure or a word.",
        "of_score": next((row for row in agreement if row["family"] == SCORE), None),
        "order": [row for row in book.order.get(key, []) if row["tastings"]],
        "noise": book.noise,
        "again": [row for row in book.again if fold(row["sample"]) in own],
        "differences": _differences(book, site),
        "method": METHOD,
    }


def _differences(book: Book, site: Any) -> list[Row]:
    """Tasters who differ, where the site lets others see it."""
    if site["plugins.tasting.taster_figures"] != "all":
        return []
    return [row for rows in book.differences.values() for row in rows if row["direction"]]


def panel(name: str, book: Book, site: Any) -> Row:
    """panel.json of a session."""
    key = fold(name)
    made: Row = {"schema": "vatting.panel/1", **book.sessions[key]}
    made["agreement"] = [_agreement(row) for row in book.agreement.get(key, [])]
    made["order"] = [_without(row, "session") for row in book.order.get(key, [])]
    made["noise"] = book.noise
    if differences := _differences(book, site):
        made["taster_differences"] = differences
    made["profiles"] = []
    own = set()
    for sample in _samples(name, book):
        own.add(sample["key"])
        families = {
            line["family"]: {
                part: {figure: row[figure] for figure in ("mean", "low", "high", "notes", "tasters", "band", "method")}
                for part, row in (("all", line), *((stage, line[stage]) for stage in ("nose", "palate", "finish")))
                if row
            }
            for line in sorted(sample["lines"], key=lambda line: FAMILIES.index(line["family"]))
        }
        score = _without(sample["score"], "sample") if sample["score"] else None
        made["profiles"].append({"sample": sample["name"], "score": score, "families": families})
    made["taste_again"] = [row for row in book.again if fold(row["sample"]) in own]
    return made


def _without(row: Row, *names: str) -> Row:
    return {name: value for name, value in row.items() if name not in names}


def _agreement(row: Row) -> Row:
    made = {name: row[name] for name in ("family", "tasters", "samples", "left_out", "said")}
    if row["icc_2_1"] is not None:
        made["icc"] = {form: row[FORM_COLUMNS[form]] for form in FORMS}
        made["icc_2_1_interval"] = {"low": row["low"], "high": row["high"], "p": row["p"]}
        made["kendall"] = {"w": row["kendall_w"], "p": row["kendall_p"], "method": row["kendall_method"]}
        made["missing"] = "the largest complete table: tasters with most gaps left out"
    return made


def cask(name: str, book: Book, site: Any) -> Row:
    """The page of a cask."""
    key = fold(name)
    like = [{**row, "wood": wood_of(book.casks.get(fold(row["other"])))} for row in book.like.get(key, [])]
    return {
        "house": site.house,
        "cask": book.casks[key],
        "gauged": key in book.gauged,
        "wood": wood_of(book.casks[key]),
        "score": book.scores.get(key),
        "lines": lines(book.profiles.get(key, [])),
        "standing": book.standing.get(key),
        "tasted_casks": len(book.standing),
        "like": like,
        "tastings": book.tastings.get(key, [])[::-1],
        "diary": book.diary.get(key, [])[::-1],
        "method": METHOD,
    }


def casks(book: Book, site: Any) -> Row:
    """The table of all casks, with what stands out in the stock."""
    rows = []
    for key, row in book.casks.items():
        standing = book.standing.get(key, {})
        decision = "emptied" if row["drawn_for"] else row["decision"] or ""
        rows.append(
            {
                **row,
                "page": page_of(key, book),
                "wood": wood_of(row),
                "shown_decision": decision,
                "group": standing.get("group"),
            }
        )
    columns = {"make": ("make", 1), "wood": ("wood", 2), "decision": ("shown_decision", 9), "group": ("group", 11)}
    choices = [
        {"name": name, "column": at, "values": sorted({row[field] for row in rows if row[field]}, key=str)}
        for name, (field, at) in columns.items()
    ]
    stands = [{**row, "wood": wood_of(book.casks[key])} for key, row in book.standing.items()]
    sure = [row for row in book.wood if row["low"] > 0 or row["high"] < 0]
    return {
        "house": site.house,
        "book_date": site.book_date.isoformat() if site.book_date else "",
        "casks": rows,
        "tasted": sum(row["tasted_at"] is not None for row in rows),
        "headings": HEADINGS,
        "choices": [choice for choice in choices if choice["values"]],
        "unlike": sorted(stands, key=lambda row: row["house_rank"])[:MOST_UNLIKE],
        "outliers": [row for row in stands if row["day_apart_on"]],
        "targets": [row for row in book.targets if row["rank"] <= TARGET_SHOWN],
        "groups": book.groups,
        "wood": sorted(sure, key=lambda row: (row["factor"], row["level"], -abs(row["effect"]))),
        "quiet": len(book.wood) - len(sure),
    }


def again(book: Book, site: Any) -> Row:
    """What to taste again, and which casks are due by their decision."""
    today = site.book_date.isoformat() if site.book_date else ""
    listed = [{**row, "place": (book.casks.get(fold(row["drawn_from"])) or {}).get("place")} for row in book.again]
    named = {fold(row["drawn_from"]) for row in book.again}
    due = [
        row for key, row in book.casks.items() if row["next_taste"] and row["next_taste"] <= today and key not in named
    ]
    due.sort(key=lambda row: (row["next_taste"], row["place"] or "", row["cask"]))
    return {"house": site.house, "again": listed, "due": due, "book_date": today}
