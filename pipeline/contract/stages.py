"""What a site developer writes: stages, documents and reports.

A stage turns frames into one frame and findings. A document turns frames and findings into plain
data, once, for the reports that show it. A report turns frames, documents and findings into the
bytes of one file. All three are pure functions whose parameter names say what they need.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from pipeline.contract.frames import Frame

RESERVED = ("site",)
Narrow = Callable[[Any, Mapping[str, Any]], Any]
REPORT_RESERVED = ("site", "findings", "sources", "run", "published")


@dataclass(frozen=True)
class Need:
    """One parameter: the name of what it needs, and whether the function can do without."""

    name: str
    optional: bool


@dataclass(frozen=True)
class Declared:
    """A function that a plugin declares, with what its parameters ask for."""

    function: Callable[..., Any]
    needs: tuple[Need, ...]
    plugin: str = ""

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        return self.function(*args, **kwargs)

    @property
    def name(self) -> str:
        return self.function.__name__

    @property
    def summary(self) -> str:
        """The first line of its docstring."""
        return (inspect.getdoc(self.function) or "").split("\n", 1)[0]


@dataclass(frozen=True)
class Stage(Declared):
    """A function that gives a frame. Made by the decorator ``stage``."""

    gives: str = ""
    frame: Frame | None = None
    replaces: bool = False
    narrow: dict[str, Narrow] = field(default_factory=dict)
    issued: str = ""
    rowwise: str = ""
    later: bool = False


@dataclass(frozen=True)
class Document(Declared):
    """A function that gives plain data for reports. Made by the decorator ``document``."""

    gives: str = ""
    per: str = ""

    @property
    def of_all(self) -> bool:
        """Whether one call gives the data of all values, as a mapping."""
        return bool(self.per) and self.per.rpartition(".")[2] not in {need.name for need in self.needs}


@dataclass(frozen=True)
class Report(Declared):
    """A function that gives the bytes of one file. Made by the decorator ``report``."""

    path: str = ""
    per: str = ""
    last: bool = False
    later: bool = False
    link: str = ""
    earlier: tuple[str, ...] | None = None


def stage(
    *,
    gives: str | Frame,
    replaces: bool = False,
    narrow: dict[str, Narrow] | None = None,
    issued: str = "",
    rowwise: str = "",
    later: bool = False,
) -> Callable[[Callable[..., Any]], Stage]:
    """Declare a stage.

    ``gives`` is the Frame that it makes, or with ``replaces=True`` the name of the frame whose
    maker it replaces; a replacing stage that names its own frame among its parameters gets what
    the replaced one gave. The function returns the frame, or the frame and a list of findings.

    ``narrow`` maps a parameter to a function that is given the frame and a mapping of all frames the
    stage needs, and returns the rows (with fewer columns, if it likes) that can count for the stage. The
    stage gets only those, and is not run again while they and its other frames stay the same: a stage that
    looks at the readings of a few vessels need not be run for every other reading.

    ``rowwise`` names a parameter whose rows the stage treats each by itself: what it gives of one row, rows
    and findings, does not depend on the others, and rests first (``facts[0]``) on the first fact of that row.
    Of a frame that has grown the stage then gets only the rows that are new or changed. What it gives comes
    in the order of those facts.

    ``later`` says that the stage can wait until the records are out, where nothing rests on it that cannot.

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
        strange = set(narrow or ()) - {need.name for need in needs}
        if strange:
            raise ValueError(f"stage {function.__name__} narrows {', '.join(sorted(strange))}, which it does not need")
        if rowwise and rowwise not in {need.name for need in needs}:
            raise ValueError(f"stage {function.__name__} is rowwise in {rowwise}, which it does not need")
        if issued:
            needs = (*(need for need in needs if need.name not in ("due", "issue", "progress")), Need(issued, False))
        return Stage(function, needs, "", name, frame, replaces, dict(narrow or {}), issued, rowwise, later)

    return wrap


def document(*, gives: str, per: str = "") -> Callable[[Callable[..., Any]], Document]:
    """Declare a document.

    ``per`` as in ``report``, where the function has a parameter of the column's name. Where it has none it is called
    once for all values and returns a mapping from value to plain data (dict, list, text, number, bool, date, None).
    """

    def wrap(function: Callable[..., Any]) -> Document:
        return Document(function, needs_of(function), gives=gives, per=per)

    return wrap


def report(
    *,
    path: str,
    per: str = "",
    last: bool = False,
    later: bool = False,
    link: str = "",
    earlier: tuple[str, ...] | None = None,
) -> Callable[[Callable[..., Any]], Report]:
    """Declare a report.

    ``path`` is relative to the outputs. With ``per="components.batch"`` the function is called
    once for each value of that frame's column: the value replaces ``{batch}`` in the path and is
    the parameter ``batch``, and of every frame that has a column ``batch`` it gets only those
    rows. A document made per batch comes as that batch's; a report without ``per`` gets such a
    document as a mapping from batch to it. ``last`` files are replaced after all others.

    ``later`` files are for reading at leisure (pages of casks, long tables): a watch brings records,
    findings and the first page out before it works on them and on the stages that serve them alone,
    and leaves off where a new file comes in between. ``link`` is what the first page says beside a
    link to the file; ``{batch}`` in it is replaced as in the path.

    With ``earlier=(…)`` the file is JSON whose earlier versions are kept beside it, and a change is
    a finding; the tuple names top-level keys that are left out when versions are compared.

    Reserved parameters: ``site`` (settings), ``findings`` (all, with place and ruling),
    ``sources`` (from facts to files), ``run`` (files taken and returned, versions, problems),
    ``published`` (a site's frames for the record).
    """

    def wrap(function: Callable[..., Any]) -> Report:
        return Report(function, needs_of(function), "", path, per, last, later, link, earlier)

    return wrap


def needs_of(function: Callable[..., Any]) -> tuple[Need, ...]:
    """What the function's parameters ask for."""
    parameters = inspect.signature(function).parameters.values()
    for parameter in parameters:
        if parameter.kind in (parameter.VAR_POSITIONAL, parameter.VAR_KEYWORD):
            raise ValueError(f"{function.__name__}: *{parameter.name} cannot name a frame")
    return tuple(Need(p.name, p.default is not p.empty) for p in parameters)
