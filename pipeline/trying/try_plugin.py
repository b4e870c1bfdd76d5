"""Runs a plugin's folder on a small frozen house, and says what it promised and what it kept."""

from __future__ import annotations

import inspect
import sys
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from pathlib import Path

from pipeline.common.errors import NotKnown
from pipeline.contract.stages import Report
from pipeline.runs.results import FAILED
from pipeline.site.house import House, build_house
from pipeline.site.loading import Added
from pipeline.trying.promises import Promise, of_stage
from pipeline.trying.tried_house import NOW, SMALL_HOUSE, TriedHouse, run_house, site_folder_for

SAMPLES = "samples"


@dataclass
class Trial:
    """What was tried: the sheets of the house, and every promise in the order in which they were looked at."""

    plugin: str
    sheets: list[str] = field(default_factory=list)
    promises: list[Promise] = field(default_factory=list)

    @property
    def broken(self) -> list[Promise]:
        return [one for one in self.promises if not one.kept]


def try_plugin(folder: Path, inbox: Path | None = None) -> Trial:
    """Try a plugin's folder on the house that ships with vatting, or on the files of an inbox, and its own samples.

    Nothing outside a temporary folder is written. Raises NotKnown where the folder holds no plugin.
    """
    folder = folder.resolve()
    if not (folder / "plugin.py").is_file():
        raise NotKnown(f"{folder} holds no plugin.py, so it is no plugin; vatting new-plugin writes one")
    trial = Trial(folder.name)
    samples = {path.name: path.read_bytes() for path in sorted((folder / SAMPLES).glob("*")) if path.is_file()}
    files = _files(inbox) | samples
    trial.sheets = sorted(files)
    with tempfile.TemporaryDirectory(prefix="vatting-", ignore_cleanup_errors=True) as name:
        place = Path(name)
        house = _loaded(trial, folder, place)
        if house is not None:
            added = house.plugins.parts[trial.plugin]
            trial.promises += _of_docs(trial.plugin, added, folder)
            ran = run_house(files, _made(place / "first"), folder)
            trial.promises += _of_run(trial.plugin, added, ran, samples)
            later = run_house(files, _made(place / "second"), folder, now=NOW + timedelta(days=40))
            trial.promises += _of_reports(added, ran, later)
    return trial


def _files(inbox: Path | None) -> dict[str, str | bytes]:
    if inbox is None:
        return dict(SMALL_HOUSE)
    return {
        path.name: path.read_bytes() for path in sorted(inbox.iterdir()) if path.is_file() and path.suffix != ".toml"
    }


def _made(folder: Path) -> Path:
    folder.mkdir()
    return folder


def _loaded(trial: Trial, folder: Path, place: Path) -> House | None:
    """The house with the plugin, or None where it is left out; what it says then is the promise that was not kept."""
    site = site_folder_for(_made(place / "looked"), folder)
    house = build_house((site / "site.toml").read_text("utf-8"), site)
    house.graph  # noqa: B018, what does not fit in is left out only then
    problem = " ".join(house.plugins.problems)
    headers = "could take sheets of" in problem
    trial.promises.append(
        Promise(
            "plugin",
            "headers" if headers else "fits in",
            not problem,
            problem or "it loads, and fits in beside all others",
        )
    )
    return None if problem else house


def _of_docs(name: str, added: Added, folder: Path) -> Iterator[Promise]:
    """Whether everything that it declares says what it is, and its README names it."""
    module = sys.modules.get(f"vatting_site.{name}.plugin")
    silent = [] if inspect.getdoc(module) else ["plugin.py"]
    for kind in added.kinds:
        silent += [] if kind.meaning else [f"sheet kind {kind.name}"]
        silent += [f"column {column.name} of {kind.name}" for column in kind.columns if not column.meaning]
    silent += [f"setting {setting.path}" for setting in added.settings if not setting.meaning]
    for stage in added.offer.stages:
        silent += [] if stage.summary else [f"stage {stage.name}"]
        columns = [] if stage.frame is None else stage.frame.columns
        silent += [f"column {column.name} of {stage.gives}" for column in columns if not column.meaning]
    silent += [f"report {made.name}" for made in added.offer.reports if not made.summary]
    yield Promise(
        "plugin",
        "docs",
        not silent,
        f"nothing says what this is: {', '.join(silent)}" if silent else "all says what it is",
    )
    readme = folder / "README.md"
    text = readme.read_text("utf-8") if readme.is_file() else ""
    wanted = [kind.name for kind in added.kinds] + [setting.path for setting in added.settings] + added.commands
    lacks = [one for one in wanted if one not in text]
    said = "there is no README.md" if not text else f"README.md does not name {', '.join(lacks)}"
    yield Promise("plugin", "readme", bool(text) and not lacks, said if lacks or not text else "README.md names it all")


def _of_run(name: str, added: Added, ran: TriedHouse, samples: Mapping[str, bytes]) -> Iterator[Promise]:
    own = {kind.name for kind in added.kinds}
    for fate in ran.result.fates:
        if fate.name in samples:
            taken = fate.outcome == "taken" and bool(own.intersection(fate.kinds.split(", ")))
            said = f"taken as {fate.kinds}, {fate.rows} rows" if taken else fate.reason or f"taken as {fate.kinds}"
            yield Promise(f"sample {fate.name}", "taken", taken, said)
    seen = {kind for fate in ran.result.fates for kind in fate.kinds.split(", ")}
    for kind in sorted(own - seen):
        yield Promise(
            f"sheet kind {kind}", "taken", False, f"no file in {SAMPLES} is of this kind, so it was not tried"
        )
    failed = {found.subject: found.message for found in ran.findings() if found.code in FAILED}
    for stage in added.offer.stages:
        wrong = failed.get(f"{name}.{stage.name}", "")
        kept = not wrong and stage.gives in ran.frames
        about = wrong or ran.result.worked.missing.get(stage.gives, "")
        yield Promise(
            f"stage {stage.name}",
            "facts" if "rests on" in wrong or "facts" in wrong else "runs",
            kept,
            f"{len(ran.frames[stage.gives])} rows, as declared, each with its facts" if kept else about,
        )
        if kept and not stage.issued:
            yield from of_stage(stage, ran.frames, ran.result.worked.site)
    for message in (text for text in failed.values() if f"of plugin {name}" in text and "report " in text):
        yield Promise("report", "runs", False, message)


def _of_reports(added: Added, ran: TriedHouse, later: TriedHouse) -> Iterator[Promise]:
    """Whether the files of its reports are the same of the same sheets, forty days later."""
    for made in (made for made in added.offer.reports if isinstance(made, Report)):
        pattern = made.path if not made.per else made.path.split("{")[0] + "*" + made.path.rsplit("}", 1)[-1]
        first, second = (
            {path.relative_to(one.out): path.read_bytes() for path in one.out.glob(pattern)} for one in (ran, later)
        )
        same = first == second
        said = (
            f"{len(first)} files, the same forty days later"
            if same
            else "another day gives other bytes: it reads a clock"
        )
        yield Promise(f"report {made.name}", "pure", same, said)
