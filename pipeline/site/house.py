"""Everything that is fixed before the first file is read: settings, plugins, kinds, stage graph."""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from functools import cached_property
from importlib import metadata
from pathlib import Path

from pipeline.common.errors import NotKnown, PluginError, SettingsError
from pipeline.contract.frames import Frame
from pipeline.contract.kinds import SheetKind
from pipeline.contract.site import Site
from pipeline.sheets.readers import Limits
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.sheets.units import UnitTable
from pipeline.site.graph import Graph, build_graph
from pipeline.site.later import after_records, later_frames
from pipeline.site.loading import DISTRIBUTION, Plugins, load_plugins
from pipeline.site.settings_file import build_site, line_of, parse, site_text


@dataclass(frozen=True)
class House:
    """The site with its plugins, checked and ready to work."""

    site: Site
    plugins: Plugins
    kinds: list[SheetKind]
    graph: Graph
    folder: Path | None

    @cached_property
    def later(self) -> frozenset[str]:
        """The frames that can wait until the records are out."""
        made = self.plugins
        return later_frames(self.graph, made.reports, made.documents, made.site_plugins)

    @cached_property
    def after_records(self) -> frozenset[str]:
        """The frames that are worked out when the records are out, and those that can wait longer."""
        made = self.plugins
        return self.later | after_records(self.graph, made.reports, made.documents, made.site_plugins)

    @property
    def units(self) -> UnitTable:
        return unit_table(self.site, self.plugins)

    @property
    def versions(self) -> dict[str, object]:
        """Versions of vatting and of each plugin."""
        return {"vatting": metadata.version(DISTRIBUTION), "plugins": dict(sorted(self.plugins.versions.items()))}

    def frame(self, name: str) -> Frame:
        """The declaration of a frame. Raises NotKnown with the nearest name."""
        if name not in self.graph.frames:
            near = difflib.get_close_matches(name, self.graph.frames, 1, 0.4)
            raise NotKnown(f"nobody makes a frame {name}{f'; did you mean {near[0]}?' if near else ''}")
        return self.graph.frames[name]

    def site_of(self, text: str) -> Site:
        """The settings of another day, for typing files as they were typed then."""
        return build_site(text, self.plugins.settings, self.folder, self.plugins.data_files, self.plugins.left_out)


def unit_table(site: Site, plugins: Plugins) -> UnitTable:
    return UnitTable(tuple(plugins.units), imperial=site["units"].get("gal", "") == "imperial")


def limits_of(site: Site) -> Limits:
    return Limits(site["limits.unpacked_megabytes"] * 1e6, site["limits.cells"], site["limits.columns"])


def open_house(folder: Path) -> House:
    """The house of an inbox: site.toml there, its plugins and the built-in ones.

    Raises SettingsError or PluginError, in words.
    """
    return build_house(site_text(folder), folder)


def build_house(text: str, folder: Path) -> House:
    folders = parse(text).get("plugin_folders", [])
    plugins = load_plugins(folder, folders if isinstance(folders, list) else [])
    site = build_site(text, plugins.settings, folder, plugins.data_files, plugins.left_out)
    while True:
        kinds = [*plugins.kinds, RULINGS]
        try:
            _check_units(site, kinds, unit_table(site, plugins))
            graph = build_graph(plugins.stages, [kind.frame() for kind in kinds], site["replacing"])
            return House(site, plugins, kinds, graph, folder)
        except PluginError as error:
            if not _drop_site_plugin(plugins, error):
                raise


def _drop_site_plugin(plugins: Plugins, error: PluginError) -> bool:
    """Leave out the first of the site's plugins that an error is about, if there is one; else nothing can run."""
    blamed = sorted(plugins.site_plugins & set(plugins.names) & error.plugins)
    if not blamed:
        return False
    name = blamed[0]
    plugins.problems.append(f"Plugin {name} was left out: {error}.")
    plugins.names.remove(name)
    plugins.versions.pop(name, None)
    plugins.stages[:] = [stage for stage in plugins.stages if stage.plugin != name]
    plugins.reports[:] = [report for report in plugins.reports if report.plugin != name]
    plugins.documents[:] = [document for document in plugins.documents if document.plugin != name]
    return True


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
