"""Documents and reports from frames and findings: each made again only where something it is made of has changed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import compress
from typing import TYPE_CHECKING, Any

import numpy as np

from pipeline.common.files import text_digest
from pipeline.contract.findings import Finding
from pipeline.contract.stages import Document, Link, Report
from pipeline.kept.asked import Values
from pipeline.kept.basis import ABSENT, Basis, Ties
from pipeline.kept.digests import Hashes, Vector
from pipeline.kept.frame_states import FrameState
from pipeline.kept.store import Kept
from pipeline.outputs.due import Dirty, as_text, maker
from pipeline.outputs.standings import stamped, standing_of
from pipeline.site.house import House
from pipeline.stages.findings_by_subject import FindingsBySubject
from pipeline.stages.work import Worked

if TYPE_CHECKING:
    import pandas as pd

LENT = ("site", "run")
TOGETHER = 4_000  # values for which a document is asked in one call


@dataclass
class Maker:
    """Calls documents and reports with what they need.

    ``given`` are the findings as reports shall see them, ``codes`` those of the last version of each subject's
    document (case-folded subject → code).
    """

    house: House
    worked: Worked
    kept: Kept
    values: Values
    given: list[Finding]
    codes: dict[str, str] = field(default_factory=dict)
    documents: dict[str, Document] = field(init=False)
    _subjects: dict[str, list[str]] = field(default_factory=dict)
    _vectors: dict[str, Vector] = field(default_factory=dict)
    _data: dict[str, dict[str, str]] = field(default_factory=dict)  # as text: a warehouse of pages is large
    _digests: dict[str, str] = field(default_factory=dict)
    _findings: dict[str, FindingsBySubject] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.documents = {document.gives: document for document in self.house.plugins.documents}

    def go_on(self, before: Maker) -> None:
        """Show the documents that were made in an earlier phase of the same run as they were made then."""
        self._subjects, self._vectors, self._data = before._subjects, before._vectors, before._data
        self._digests = {name: digest for name, digest in before._digests.items() if name in self.documents}

    def standings(self) -> dict[str, dict[str, Any]]:
        """What documents made for single values say of their status and of what a release is held against."""
        found: dict[str, dict[str, Any]] = {}
        for document in self.documents.values():
            if document.per:
                found.update(self.kept.record(f"standings {document.gives}") or {})
        return dict(sorted(found.items()))

    @property
    def states(self) -> dict[str, FrameState]:
        return self.worked.states

    def subjects(self, per: str) -> list[str]:
        """The values that something is made for each of, in order."""
        if per not in self._subjects:
            frame, _, column = per.partition(".")
            found = set(self.states[frame].frame[column].dropna()) if frame in self.states else set()
            self._subjects[per] = sorted(found)
        return self._subjects[per]

    def lacks_a_frame(self, made: Report | Document, seen: frozenset[str] = frozenset()) -> bool:
        """Whether a failed stage's frame is needed, by the report or by a document that it shows."""
        for need in made.needs:
            if need.optional or need.name in seen:
                continue
            document = self.documents.get(need.name)
            if need.name in self.worked.missing or (document and self.lacks_a_frame(document, seen | {need.name})):
                return True
        return False

    # --- what has changed --------------------------------------------------------------------------

    def dirty(self, made: Report | Document) -> Dirty:
        """What of a document or report is not as it was kept."""
        basis = self._basis(made)
        record = self.kept.record(maker(made))
        if record is None or not self.values.same(record["asked"]):
            return Dirty(basis, None)
        changed = basis.changed(self.kept, maker(made), record["shared"])
        return Dirty(basis, changed)

    def settle(
        self, made: Report | Document, dirty: Dirty, seen: dict[str, str], done: list[str] | None = None
    ) -> None:
        """Keep that it was made on its basis, for all subjects or for those that are ``done``.

        ``seen`` is what the calls looked at.
        """
        name, record = maker(made), self.kept.record(maker(made))
        asked = seen if dirty.ids is None or record is None else record["asked"] | seen

        def keep() -> None:
            if done is None:
                dirty.basis.keep(self.kept, name)
            else:
                before = (
                    {}
                    if dirty.ids is None
                    else {need: self.kept.vector(f"{name}<{need}") for need in dirty.basis.vectors}
                )
                dirty.basis.of(self.kept.hasher.ids(done), before, dirty.ids).keep(self.kept, name)
            if done is None or made.per or done:
                self.kept.keep_record(name, {"shared": dirty.basis.shared, "asked": asked})

        self.kept.together(keep)

    def _basis(self, made: Report | Document) -> Basis:
        column = made.per.rpartition(".")[2]
        ties, basis = Ties(column, "", made.links), Basis()
        for need in made.needs:
            name = need.name
            if name == column or name in LENT:
                continue
            if name == "findings":
                self._add_findings(made, column, basis)
            elif name == "sources":
                corrections, undone = self.worked.sources.state
                basis.shared[name] = text_digest(corrections, sorted(undone))
            elif name == "published":
                for frames in self._published_names().values():
                    for frame in frames:
                        ties.add(basis, frame, self.states)
            elif name in self.documents:
                self._add_document(self.documents[name], column, basis)
            elif name in self.states:
                ties.add(basis, name, self.states)
            else:
                basis.shared[name] = ABSENT
        if column:
            frame = made.per.partition(".")[0]
            if frame in self.states:
                basis.vectors.setdefault(f"per {frame}", self._present(self.states[frame], column))
        return basis

    def _present(self, state: FrameState, column: str) -> Vector:
        ids = state.vector(column).ids
        return Vector(ids, np.ones(len(ids), np.uint64))

    def _add_findings(self, made: Report | Document, column: str, basis: Basis) -> None:
        if column:
            basis.vectors["findings"] = self._by_subject(made).vector
        else:
            if "findings" not in self._digests:
                self._digests["findings"] = text_digest(self.given)
            basis.shared["findings"] = self._digests["findings"]

    def _by_subject(self, made: Report | Document) -> FindingsBySubject:
        key = maker(made)
        if key not in self._findings:
            ties = Ties(made.per.rpartition(".")[2], "", made.links)
            tied = [ties.owners(need.name, self.states) for need in made.needs if need.name in self.states]
            owned = [one for one in tied if one is not None]
            self._findings[key] = FindingsBySubject(self.given, ties.per, owned, self.kept.hasher, self._shared)
        return self._findings[key]

    @cached_property
    def _shared(self) -> frozenset[int]:
        """The facts on which rows of many subjects rest."""
        names = [kind.name for kind in self.house.kinds if kind.shared and kind.name in self.states]
        return frozenset(fact for name in names for fact in self.states[name].facts.tolist())

    def _add_document(self, document: Document, column: str, basis: Basis) -> None:
        name = document.gives
        if self.lacks_a_frame(document):
            basis.shared[name] = ABSENT
        elif not document.per:
            basis.shared[name] = self._whole_digest(document)
        elif column:
            basis.vectors[name] = self._document_vector(document)
        else:
            basis.shared[name] = f"{self._document_vector(document).total():x}"

    # --- documents ---------------------------------------------------------------------------------

    def _whole_digest(self, document: Document) -> str:
        """The digest of a document that is made for no subject; it is made again where it must."""
        name = document.gives
        if name not in self._digests:
            dirty = self.dirty(document)
            record = self.kept.record(f"{maker(document)} data")
            if dirty.ids is not None and not len(dirty.basis.vectors) and record is not None:
                self._digests[name] = record["digest"]
            else:
                self._make_whole(document, dirty)
        return self._digests[name]

    def _make_whole(self, document: Document, dirty: Dirty) -> Any:
        seen: dict[str, str] = {}
        text = as_text(document, document.called(self.arguments(document, "", seen)))
        self._data[document.gives] = {"": text}
        self._digests[document.gives] = text_digest(text)
        self.kept.keep_record(f"{maker(document)} data", {"digest": self._digests[document.gives]})
        self.settle(document, dirty, seen)
        return json.loads(text)

    def whole(self, document: Document) -> Any:
        """A document that is made for no subject."""
        made = self._data.get(document.gives)
        return json.loads(made[""]) if made else self._make_whole(document, self.dirty(document))

    def _document_vector(self, document: Document) -> Vector:
        """The digests of a document by subject, each of them brought up."""
        name = document.gives
        if name not in self._vectors:
            dirty = self.dirty(document)
            before = self.kept.vector(f"{maker(document)} data") if dirty.ids is not None else None
            if before is None:
                dirty.ids = None
            present = self.subjects(document.per)
            ids = self.kept.hasher.ids(present)
            due = list(compress(present, dirty.among(ids).tolist()))
            if before is not None and dirty.ids is not None and not len(dirty.ids):
                self._vectors[name] = before
            else:
                self._vectors[name] = self._bring_up(document, dirty, before, due, ids)
        return self._vectors[name]

    def _bring_up(
        self, document: Document, dirty: Dirty, before: Vector | None, due: list[str], present: Hashes
    ) -> Vector:
        seen: dict[str, str] = {}
        texts = self._texts(document, due, seen)
        ids = self.kept.hasher.ids(texts)
        sums = np.array([self.kept.hasher.number("data", text) for text in texts.values()], np.uint64)
        fresh = Vector.of(ids, sums)
        vector = fresh if before is None else before.with_others(fresh)
        vector = vector.only(np.isin(vector.ids, present))
        shown_whole = self._is_shown_whole(document)

        def keep() -> None:
            if shown_whole:
                self._keep_data(document, texts, before is None)
                self._keep_standings(document, texts, before is None)
            self.kept.keep_vector(f"{maker(document)} data", vector)
            self.settle(document, dirty, seen)

        self.kept.together(keep)
        return vector

    def _keep_data(self, document: Document, texts: dict[str, str], anew: bool) -> None:
        self.kept.drop_documents(document.gives, set() if anew else set(self.subjects(document.per)))
        for subject, text in texts.items():
            self.kept.keep_document(document.gives, subject, text)

    def _keep_standings(self, document: Document, texts: dict[str, str], anew: bool) -> None:
        present = set(self.subjects(document.per))
        known = {} if anew else self.kept.record(f"standings {document.gives}") or {}
        stated = {value: standing_of(value, json.loads(text)) for value, text in texts.items()}
        known = {value: stood for value, stood in {**known, **stated}.items() if value in present and stood}
        self.kept.keep_record(f"standings {document.gives}", known)

    def _is_shown_whole(self, document: Document) -> bool:
        made: list[Document | Report] = [*self.house.plugins.reports, *self.documents.values()]
        return any(not one.per and any(need.name == document.gives for need in one.needs) for one in made)

    def _texts(self, document: Document, values: list[str], seen: dict[str, str]) -> dict[str, str]:
        """The data of a document for some values, as text; kept at hand for the reports that show them."""
        column = document.per.rpartition(".")[2]
        texts: dict[str, str] = {}
        if any(need.name == column for need in document.needs):
            for value in values:
                data = document.called(self.arguments(document, value, seen))
                texts[value] = as_text(document, stamped(data, self.codes.get(value.casefold(), "")))
        else:
            for start in range(0, len(values), TOGETHER):
                part = values[start : start + TOGETHER]
                given = document.called(self.arguments(document, "", seen, np.unique(self.kept.hasher.ids(part))))
                for value in (value for value in part if value in given):
                    texts[value] = as_text(document, stamped(given[value], self.codes.get(value.casefold(), "")))
        self._data.setdefault(document.gives, {}).update(texts)
        return texts

    def of_subject(self, document: Document, value: str, seen: dict[str, str]) -> Any:
        """A document's data for a value; made if it is not at hand."""
        held = self._data.setdefault(document.gives, {})
        if value not in held:
            self._texts(document, [value], seen)
        return json.loads(held[value]) if value in held else None

    def all_subjects(self, document: Document) -> dict[str, Any]:
        """A document's data for every value."""
        self._document_vector(document)
        held = self.kept.documents(document.gives) if not self.kept.only_read else {}
        return {
            value: held[value] if value in held else self.of_subject(document, value, {})
            for value in self.subjects(document.per)
        }

    def prepare(self, report: Report, values: list[str]) -> None:
        """Have at hand what documents say of several values, made together where a document can."""
        for need in report.needs if report.per else ():
            document = self.documents.get(need.name)
            if document is not None and document.per and not self.lacks_a_frame(document):
                held = self._data.setdefault(document.gives, {})
                self._texts(document, [value for value in values if value not in held], {})

    def forget(self, report: Report, values: list[str]) -> None:
        """Let go of what ``prepare`` had at hand: a watch would have all pages of a warehouse in its memory."""
        for need in report.needs:
            document = self.documents.get(need.name)
            if document is not None and document.per and not self._is_shown_whole(document):
                for value in values:
                    self._data.get(document.gives, {}).pop(value, None)

    # --- arguments ---------------------------------------------------------------------------------

    def arguments(
        self, made: Report | Document, value: str, seen: dict[str, str], wanted: Hashes | None = None
    ) -> dict[str, Any]:
        """What a function is called with: for one value, for the ``wanted`` subjects, or whole."""
        column = made.per.rpartition(".")[2]
        found: dict[str, Any] = {}
        for need in made.needs:
            name = need.name
            if name == column:
                found[name] = value
            elif name in LENT:
                found[name] = self.values.lend(name, seen)
            elif name == "findings":
                of_value = self._by_subject(made).of(value) if column and value else self.given
                found[name] = list(of_value)
            elif name == "sources":
                found[name] = self.worked.sources
            elif name == "published":
                found[name] = self._published(column, value)
            elif name in self.documents:
                self._add_document_to(found, self.documents[name], column, value, seen)
            elif name in self.states:
                found[name] = self._rows(name, column, value, wanted, made.links)
            elif not need.optional:
                raise KeyError(f"nothing gives {name}")
        return found

    def _add_document_to(
        self, found: dict[str, Any], document: Document, column: str, value: str, seen: dict[str, str]
    ) -> None:
        if self.lacks_a_frame(document):
            return
        if not document.per:
            found[document.gives] = self.whole(document)
        elif column:
            found[document.gives] = self.of_subject(document, value, seen)
        else:
            found[document.gives] = self.all_subjects(document)

    def _rows(
        self, name: str, column: str, value: str, wanted: Hashes | None, links: Mapping[str, Link]
    ) -> pd.DataFrame:
        state = self.states[name]
        if name not in links and (not column or column not in state.declared.names):
            return state.frame.copy(deep=False)
        if wanted is None and name not in links:
            return state.rows_of(column, value)
        ids = self.kept.hasher.ids([value]) if wanted is None else wanted
        return Ties(column, "", links).rows(name, self.states, ids).copy(deep=False)

    def _published_names(self) -> dict[str, list[str]]:
        """Plugin of the site → its frames for the record."""
        found: dict[str, list[str]] = {}
        for stage in self.house.graph.order:
            frame = self.house.graph.frames[stage.gives]
            shown = frame.publish and "batch" in frame.names and stage.gives in self.states
            if shown and stage.plugin in self.house.plugins.foreign:
                found.setdefault(stage.plugin, []).append(stage.gives)
        return found

    def _published(self, column: str, value: str) -> dict[str, dict[str, pd.DataFrame]]:
        own = "batch" if column else ""
        return {
            plugin: {name: self._rows(name, own, value, None, {}) for name in names}
            for plugin, names in self._published_names().items()
        }
