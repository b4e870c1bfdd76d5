"""Everything that is fixed before the first file is read: settings, plugins, kinds, stage graph."""

from __future__ import annotations

import difflib
from dataclasses import dataclass, replace
from functools import cached_property
from importlib import metadata
from pathlib import Path

from pipeline.common.errors import NotKnown, PluginError, SettingsError
from pipeline.common.files import text_digest
from pipeline.contract.frames import Frame
from pipeline.contract.kinds import SheetKind
from pipeline.contract.site import Site
from pipeline.contract.stages import Document, Report
from pipeline.kept.environment import environment
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.sheets.units import UnitTable
from pipeline.site.declared_checks import check_declared
from pipeline.site.graph import Graph, build_graph
from pipeline.site.header_words import with_header_words
from pipeline.site.loading import DISTRIBUTION, Plugins, load_plugins
from pipeline.site.people import people_of
from pipeline.site.priority import after_records, waiting_frames
from pipeline.site.settings_file import ENGINE_SETTINGS, build_site, line_of, parse
from pipeline.site.source import SITE_ONLY, Source, counting, disabled_in
from pipeline.tables.tables import Limits

NOT_HERE = "default; it counts only in a site folder"


@dataclass(frozen=True)
class House:
    """The site with its plugins, checked and ready to work."""

    site: Site
    plugins: Plugins
    folder: Path | None

    @cached_property
    def kinds(self) -> list[SheetKind]:
        """The kinds of sheet that the inbox knows, with the site's header words, the engine's own last."""
        return [*with_header_words(self.plugins.kinds, self.site), RULINGS]

    @cached_property
    def graph(self) -> Graph:
        """The stages in their order. A plugin that does not fit in is left out, with a problem that says why."""
        while True:
            try:
                inputs = {kind.frame(): kind.plugin for kind in self.kinds}
                graph = build_graph(self.plugins.stages, inputs, self.site["replacing"])
                check_declared(graph, self.plugins, self.units, self.site["book"])
                return graph
            except PluginError as error:
                if not self.plugins.leave_out_blamed(error):
                    raise
                self.__dict__.pop("kinds", None)  # those of the plugin are no longer known

    @cached_property
    def waiting(self) -> frozenset[str]:
        """The frames that can wait until the records are out."""
        made = self.plugins
        return waiting_frames(self.graph, made.reports, made.documents, made.foreign)

    @cached_property
    def after_records(self) -> frozenset[str]:
        """The frames that are worked out when the records are out, and those that can wait longer."""
        made = self.plugins
        return self.waiting | after_records(self.graph, made.reports, made.documents, made.foreign)

    @cached_property
    def ties(self) -> dict[str, frozenset[str]]:
        """For each frame the columns by which stages, documents and reports are tied to it."""
        from pipeline.kept.basis import Ties, ties_of_frames  # brings NumPy

        shown: list[Document | Report] = [*self.plugins.documents, *self.plugins.reports]
        stages = [*self.graph.order, *self.graph.replaced.values()]
        users = [(Ties(s.per, s.rows_of, s.links), [need.name for need in s.needs]) for s in stages]
        users += [(Ties(one.per.rpartition(".")[2], "", one.links), [need.name for need in one.needs]) for one in shown]
        ties = ties_of_frames({name: frame.names for name, frame in self.graph.frames.items()}, users)
        for report in self.plugins.reports:
            frame, _, column = report.per.partition(".")
            if frame in ties:
                ties[frame] |= {column}
        return ties

    @cached_property
    def environment(self) -> str:
        """What kept results depend on beside their data: code, plugins and libraries."""
        return text_digest(environment(), sorted(self.plugins.versions.items()))

    @property
    def notes(self) -> list[str]:
        """What whoever reads the outputs should know of how the settings came to be, in sentences."""
        notes = []
        if self.folder is None and self.site.text:
            notes.append(
                "Settings come from the inbox, where whoever drops files may change them; people, book, group and "
                "plugins do not count there. Better put site.toml into a site folder."
            )
        if not people_of(self.site).listed:
            notes.append("Nobody is listed who may rule: any name that is typed may rule and release.")
        return notes

    @cached_property
    def units(self) -> UnitTable:
        return unit_table(self.site, self.plugins)

    @cached_property
    def versions(self) -> dict[str, object]:
        """Versions of vatting and of each plugin; to ask for one reads all that is known of a package."""
        return {"vatting": metadata.version(DISTRIBUTION), "plugins": dict(sorted(self.plugins.versions.items()))}

    def frame(self, name: str) -> Frame:
        """The declaration of a frame. Raises NotKnown with the nearest name."""
        if name not in self.graph.frames:
            near = difflib.get_close_matches(name, self.graph.frames, 1, 0.4)
            raise NotKnown(f"no stage produces {name}{f'; did you mean {near[0]}?' if near else ''}")
        return self.graph.frames[name]

    def kinds_of(self, site: Site) -> list[SheetKind]:
        """The kinds of sheet with the header words of these settings."""
        return self.kinds if site is self.site else [*with_header_words(self.plugins.kinds, site), RULINGS]

    def site_of(self, text: str) -> Site:
        """The settings of another day, for typing files as they were typed then."""
        return _site(text, self.plugins, self.folder)


def _site(text: str, plugins: Plugins, folder: Path | None) -> Site:
    site = build_site(text, plugins.settings, folder, plugins.data_files, plugins.left_out)
    if folder is None:
        site = _of_nobody(site)
    disabled = disabled_in({"plugins": {"disabled": site["plugins.disabled"]}})
    if disabled == site["plugins.disabled"]:
        return site
    sources = {**site.sources, "plugins.disabled": "--without"}
    return replace(site, values={**site.values, "plugins.disabled": disabled}, sources=sources)


def _of_nobody(site: Site) -> Site:
    """Settings that lie where anybody may drop files: what only a site's folder may say has its default."""
    own = {setting.path: setting.default for setting in ENGINE_SETTINGS if setting.path in SITE_ONLY}
    return replace(site, values={**site.values, **own}, sources={**site.sources, **dict.fromkeys(own, NOT_HERE)})


def unit_table(site: Site, plugins: Plugins) -> UnitTable:
    return UnitTable(tuple(plugins.units), imperial=site["units"].get("gal", "") == "imperial")


def limits_of(site: Site) -> Limits:
    return Limits(site["limits.unpacked_megabytes"] * 1e6, site["limits.cells"], site["limits.columns"])


def open_house(source: Source, whole: bool = True) -> House:
    """The house of a site.toml: its settings, its plugins and the built-in ones.

    Without ``whole`` nobody asks for stages and reports before the graph is looked at: what only knows sheets and
    settings is quick then. Raises SettingsError or PluginError, in words.
    """
    return build_house(source.text, source.site_folder, whole)


def build_house(text: str, folder: Path | None, whole: bool = True) -> House:
    """The house of a site.toml's text, as ``open_house`` gives it.

    Without a folder the text lies where anybody may drop files: what it says of ``SITE_ONLY`` does not count.
    """
    stated = counting(parse(text), folder)
    plugins = load_plugins(folder, _list(stated.get("plugin_folders", [])), disabled_in(stated))
    house = _with_kinds(text, plugins, folder)
    _check_book(house.site)
    _check_units(house.site, house.kinds, house.units)
    if whole:
        house.graph  # noqa: B018, what is wrong with it is said before anything is taken
        plugins.reports  # noqa: B018
    return house


def _with_kinds(text: str, plugins: Plugins, folder: Path | None) -> House:
    """The house with its kinds of sheet; a plugin whose header words cannot be used is left out."""
    while True:
        house = House(_site(text, plugins, folder), plugins, folder)
        try:
            house.kinds  # noqa: B018
            return house
        except PluginError as error:
            if not plugins.leave_out_blamed(error):
                raise


def _list(stated: object) -> list[str]:
    """What site.toml states as a list; what is none is told when settings are checked."""
    return [str(one) for one in stated] if isinstance(stated, list) else []


def _check_book(site: Site) -> None:
    """The book lies in the outputs, or where an absolute path says."""
    stated, where = site["book"], site.sources["book"]
    parts = Path(stated).parts
    if not Path(stated).is_absolute() and (not parts or ".." in parts or ":" in stated):
        raise SettingsError(f"{where}: book = {stated!r} leads out of the outputs; elsewhere it needs an absolute path")


def _check_units(site: Site, kinds: list[SheetKind], units: UnitTable) -> None:
    """A column or unit of [units] that nobody knows is a mistake of site.toml, not of every row."""
    known = {quantity: {quantity} for quantity in units.quantities}
    for column in (column for kind in kinds for column in kind.columns if column.quantity):
        known.setdefault(column.name, set()).add(column.quantity)
    for name, words in site["units"].items():
        where = f"site.toml line {line_of(site.text, f'units.{name}')}: [units] {name}"
        if name == "gal":
            if words not in ("imperial", "US"):
                raise SettingsError(f'{where} must be "imperial" or "US", not {words!r}')
        elif name not in known:
            near = difflib.get_close_matches(name, known, 1)
            raise SettingsError(f"{where} is no column with a unit{f'; did you mean {near[0]}?' if near else ''}")
        elif not any(units.find(quantity, words) for quantity in known[name]):
            said = ", ".join(unit for quantity in sorted(known[name]) for unit in units.spellings(quantity))
            raise SettingsError(f"{where} = {words!r} is no unit known for it; known are {said}")
