"""What a site developer writes: stages, documents and reports.

A stage turns frames into one frame and findings. A document turns frames and findings into plain
data, once, for the reports that show it. A report turns frames, documents and findings into the
bytes of one file. All three are pure functions whose parameter names say what they need.
"""

from __future__ import annotations

import inspect
import re
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from pipeline.common.guarding import guarded
from pipeline.contract.frames import BrokenPromise, Frame

RESERVED = ("site",)
ROW_OF = "row of "
REPORT_RESERVED = ("site", "findings", "sources", "run", "published")


class OwnDatabaseFailed(Exception):
    """A function of a plugin asked a database, and that failed."""


@dataclass(frozen=True)
class Need:
    """One parameter: the name of what it needs, and whether the function can do without."""

    name: str
    optional: bool


@dataclass(frozen=True)
class Declared:
    """A function that a plugin declares, with what its parameters ask for.

    ``seconds`` bounds each call of what is not built in; 0 for no bound.
    """

    function: Callable[..., Any]
    needs: tuple[Need, ...]
    plugin: str = ""
    seconds: float = 0.0

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        return self.function(*args, **kwargs)

    def called(self, arguments: dict[str, Any]) -> Any:
        """What the function gives. Raises what it raises; a database's error as OwnDatabaseFailed, for it is none of
        the book's or of what is kept; what would end the program, or takes too long, as Misbehaved."""
        try:
            if not self.seconds:
                return self.function(**arguments)
            with guarded(self.plugin, self.seconds):
                return self.function(**arguments)
        except sqlite3.Error as error:
            raise OwnDatabaseFailed(f"{type(error).__name__}: {error}") from error

    @property
    def name(self) -> str:
        return self.function.__name__

    @property
    def summary(self) -> str:
        """The first line of its docstring."""
        return (inspect.getdoc(self.function) or "").split("\n", 1)[0]


@dataclass(frozen=True)
class Link:
    """What ties a frame's rows to a stage: their name in ``column`` stands in one of ``others`` (frame, column)."""

    column: str
    others: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Stage(Declared):
    """A function that gives a frame. Made by the decorator ``stage``."""

    gives: str = ""
    frame: Frame | None = None
    replaces: bool = False
    per: str = ""
    links: dict[str, Link] = field(default_factory=dict)
    issued: str = ""
    wait: bool = False

    @property
    def rows_of(self) -> str:
        """The frame whose rows the stage treats each by itself, if it does."""
        return self.per.removeprefix(ROW_OF) if self.per.startswith(ROW_OF) else ""


@dataclass(frozen=True)
class Document(Declared):
    """A function that gives plain data for reports. Made by the decorator ``document``."""

    gives: str = ""
    per: str = ""
    links: dict[str, Link] = field(default_factory=dict)

    @property
    def of_all(self) -> bool:
        """Whether one call gives the data of all values, as a mapping."""
        return bool(self.per) and self.per.rpartition(".")[2] not in {need.name for need in self.needs}


@dataclass(frozen=True)
class Nav:
    """A word of the short navigation that stands on every page; its report's page is what it leads to.

    Words stand in order of ``place``. With ``frames`` it is there only where one of them has rows: name those without
    which the report gives no file. ``anchor`` is a place on the page. Pages in ``folders`` belong to the word.
    """

    place: int
    word: str
    frames: tuple[str, ...] = ()
    anchor: str = ""
    folders: tuple[str, ...] = ()


@dataclass(frozen=True)
class Report(Declared):
    """A function that gives the bytes of one file. Made by the decorator ``report``."""

    path: str = ""
    per: str = ""
    last: bool = False
    wait: bool = False
    link: str = ""
    earlier: tuple[str, ...] | None = None
    links: dict[str, Link] = field(default_factory=dict)
    signed: bool = False
    tells: Callable[[bytes, Any], dict[str, list[str]]] | None = None
    nav: tuple[Nav, ...] = ()

    def bytes_of(self, arguments: dict[str, Any]) -> bytes | None:
        """The bytes of one file, or None for no file. Raises what the function raises, and BrokenPromise."""
        made = self.called(arguments)
        if made is not None and not isinstance(made, bytes):
            raise BrokenPromise(f"it gives a {type(made).__name__}, not bytes or None; texts want .encode('utf-8')")
        return made


def stage(
    *,
    gives: str | Frame,
    replaces: bool = False,
    per: str = "",
    links: str = "",
    issued: str = "",
    wait: bool = False,
    seconds: float = 0.0,
) -> Callable[[Callable[..., Any]], Stage]:
    """Declare a stage.

    ``gives`` is the Frame that it makes, or with ``replaces=True`` the name of the frame whose
    maker it replaces; a replacing stage that names its own frame among its parameters gets what
    the replaced one gave. The function returns the frame, or the frame and a list of findings.

    ``per`` says what the stage treats each by itself, so that only those that something has changed for are worked
    out again: ``"batch"``, a column that stands in the frame it gives and in at least one that it needs, or
    ``"row of readings"``, the rows of a frame. The stage is called once for all that changed, and of frames with
    that column gets only their rows. What it gives of one may not depend on the others. Rows come in order of
    the column, or of the rows treated; a row of ``"row of …"`` rests first (``facts[0]``) on the row it is of.

    ``links`` tie other frames by names, one to a line: ``casks.cask = blends.component or briefs.vessel`` lets
    only those rows of ``casks`` through whose cask stands in one of the columns on the right, of the same
    batch where the stage is ``per="batch"``. A frame that is neither tied nor linked is given whole.

    ``wait=True`` says that the stage can wait until the records are out, where nothing rests on it that cannot.

    ``seconds`` is the longest time that a call may take, a minute where it says nothing; one that takes longer is
    stopped, and is told as a stage that failed.

    ``issued`` names a frame whose rows say what is due (columns: the key, ``basis``, ``open``). The
    function is then called once for each row that is due, with the row as ``due`` and the number of the
    issue as ``issue``, and returns bytes of UTF-8 text; a parameter ``progress`` is a function that takes
    words for whoever waits. They are kept in the journal and read back from
    then on; the frame has the columns of the key, ``issue`` and ``document`` (the text).
    """

    def wrap(function: Callable[..., Any]) -> Stage:
        frame = gives if isinstance(gives, Frame) else None
        name = gives.name if isinstance(gives, Frame) else gives
        needs = needs_of(function)
        if any(need.name == "findings" for need in needs):
            raise ValueError(f"stage {function.__name__} takes findings; only reports and documents may")
        if issued:
            needs = (*(need for need in needs if need.name not in ("due", "issue", "progress")), Need(issued, False))
        made = Stage(function, needs, "", seconds, name, frame, replaces, per, parse_links(links), issued, wait)
        _check_ties(made)
        return made

    return wrap


def parse_links(text: str) -> dict[str, Link]:
    """Links as they are written in ``stage`` → the frame that each lets through. Raises ValueError in words."""
    links: dict[str, Link] = {}
    for line in filter(None, (part.strip() for part in re.split(r"[\n,]", text))):
        left, equals, right = line.partition("=")
        frame, _, column = left.strip().partition(".")
        others = [other.strip().partition(".") for other in re.split(r"\s+or\s+", right.strip())]
        if not equals or not column or not all(name and of for name, _, of in others):
            raise ValueError(f"the link {line!r} is not like casks.cask = blends.component or briefs.vessel")
        if frame in links:
            raise ValueError(f"two links let {frame} through; put their right sides into one, with or")
        links[frame] = Link(column, tuple((name, of) for name, _, of in others))
    return links


def _check_ties(made: Stage) -> None:
    """Hold ``per`` and ``links`` against the parameters and the frame. Raises ValueError in words."""
    names = {need.name for need in made.needs}
    said = f"stage {made.name}"
    if made.rows_of and made.rows_of not in names:
        raise ValueError(f"{said} is per row of {made.rows_of}, which it does not need")
    if made.per and not made.rows_of and made.frame is not None and made.per not in made.frame.key:
        raise ValueError(f"{said} is per {made.per}, which is no part of the key of {made.gives}")
    for frame, link in made.links.items():
        for name in (frame, *(other for other, _ in link.others)):
            if name not in names:
                raise ValueError(f"{said} links {name}, which it does not need")


def document(*, gives: str, per: str = "", links: str = "") -> Callable[[Callable[..., Any]], Document]:
    """Declare a document: plain data (dicts with texts as keys, lists, texts, numbers, None) that reports show.

    ``gives`` is the name by which reports ask for it.
    ``per`` as in ``report``, ``links`` as in ``stage``; a function without the value as its parameter is called once
    for all values that something has changed for, with their rows, and gives a mapping from value to data.

    Of a document made for single batches that says ``status`` the book keeps this, and ``signing``, which a release is
    held against: ``code`` (24 hex digits over what the signer sees, None while it is not whole; the engine puts the
    version's number before it), ``last_fact`` (ISO date), ``ruled_by`` (names), ``but_for_law`` (the status without
    open verdicts of law) and ``of_law`` (how many are open).
    """

    def wrap(function: Callable[..., Any]) -> Document:
        return Document(function, needs_of(function), gives=gives, per=per, links=parse_links(links))

    return wrap


def report(
    *,
    path: str,
    per: str = "",
    last: bool = False,
    wait: bool = False,
    link: str = "",
    earlier: tuple[str, ...] | None = None,
    links: str = "",
    signed: bool = False,
    tells: Callable[[bytes, Any], dict[str, list[str]]] | None = None,
    nav: tuple[Nav, ...] = (),
) -> Callable[[Callable[..., Any]], Report]:
    """Declare a report.

    ``path`` is relative to the outputs. With ``per="components.batch"`` the function is called
    once for each value of that frame's column: the value replaces ``{batch}`` in the path and is
    the parameter ``batch``, and of every frame that has a column ``batch`` it gets only those
    rows. A document made per batch comes as that batch's; a report without ``per`` gets such a
    document as a mapping from batch to it. ``links`` tie other frames as in ``stage``. ``last`` files are replaced
    after all others.

    ``wait=True`` is for files that are read at leisure (pages of casks, long tables): a watch brings records,
    findings and the first page out before it works on them and on the stages that serve them alone.

    ``link`` is what the first page says beside a link to the file; ``{batch}`` in it is replaced as in the path.
    ``nav`` are words of the navigation on every page (``Nav``) that lead to this page.

    With ``earlier=(…)`` the file is JSON whose earlier versions are kept beside it, and a change is
    a finding; the tuple names top-level keys that are left out when versions are compared. With ``signed=True`` the
    file as it lies when a release of its batch is taken is kept, and lies under ``signed/`` beside it from then on.

    ``tells`` is a function of the file's bytes and the settings that gives lines by part: ``vatting explain`` of the
    value opens with the part ``account``, and gives another alone when asked by its name.

    Reserved parameters: ``site`` (settings), ``findings`` (all, with place and ruling),
    ``sources`` (from facts to files), ``run`` (files taken and returned, versions, problems),
    ``published`` (a site's frames for the record).
    """

    def wrap(function: Callable[..., Any]) -> Report:
        return Report(
            function,
            needs_of(function),
            "",
            0.0,
            path,
            per,
            last,
            wait,
            link,
            earlier,
            parse_links(links),
            signed,
            tells,
            nav,
        )

    return wrap


def needs_of(function: Callable[..., Any]) -> tuple[Need, ...]:
    """What the function's parameters ask for."""
    parameters = inspect.signature(function).parameters.values()
    for parameter in parameters:
        if parameter.kind in (parameter.VAR_POSITIONAL, parameter.VAR_KEYWORD):
            raise ValueError(f"{function.__name__}: *{parameter.name} cannot name a frame")
    return tuple(Need(p.name, p.default is not p.empty) for p in parameters)
