"""Finds and loads plugins: from entry points (the built-in ones too) and from the site's folders."""

from __future__ import annotations

import difflib
import hashlib
import importlib.util
import sys
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from importlib import metadata
from pathlib import Path
from types import ModuleType
from typing import Any

import pluggy

from pipeline.common.errors import PluginError
from pipeline.contract import hooks
from pipeline.contract.commands import name_and_version
from pipeline.contract.kinds import SheetKind
from pipeline.contract.settings import Setting
from pipeline.contract.site import DataFile
from pipeline.contract.stages import Document, Report, Stage
from pipeline.contract.units import UnitWords
from pipeline.sheets.headers import doubled_words
from pipeline.sheets.rulings_sheet import RULINGS
from pipeline.site.settings_file import ENGINE_SETTINGS

DISTRIBUTION = "vatting"
SITE_PACKAGE = "vatting_site"


class Offer:
    """The stages and reports of one plugin. They are asked for when somebody first wants them: that imports much."""

    def __init__(self, ask: Callable[[str], list[Any]]) -> None:
        self._ask = ask

    @cached_property
    def stages(self) -> list[Stage]:
        return self._ask("stages")

    @cached_property
    def reports(self) -> list[Report | Document]:
        return self._ask("reports")


@dataclass
class Plugins:
    """What all loaded plugins add, each thing knowing its plugin."""

    names: list[str] = field(default_factory=list)
    versions: dict[str, str] = field(default_factory=dict)
    site_plugins: set[str] = field(default_factory=set)
    left_out: set[str] = field(default_factory=set)  # by name; "*" for those of a folder that is not there
    kinds: list[SheetKind] = field(default_factory=list)
    offers: dict[str, Offer] = field(default_factory=dict)
    settings: list[Setting] = field(default_factory=list)
    units: list[UnitWords] = field(default_factory=list)
    data: dict[str, list[DataFile]] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)

    @property
    def stages(self) -> list[Stage]:
        return [stage for offer in self.offers.values() for stage in offer.stages]

    @property
    def reports(self) -> list[Report]:
        return [made for offer in self.offers.values() for made in offer.reports if isinstance(made, Report)]

    @property
    def documents(self) -> list[Document]:
        return [made for offer in self.offers.values() for made in offer.reports if isinstance(made, Document)]

    @property
    def data_files(self) -> dict[str, tuple[DataFile, ...]]:
        return {name: tuple(files) for name, files in sorted(self.data.items())}


def load_plugins(folder: Path | None = None, plugin_folders: list[str] | None = None) -> Plugins:
    """Load every plugin.

    ``plugin_folders`` are relative to ``folder``, the one with site.toml. A site's plugin that
    fails is left out and named in ``problems``; a built-in one raises PluginError.
    """
    plugins = Plugins()
    manager = pluggy.PluginManager(hooks.PROJECT)
    manager.add_hookspecs(hooks)
    found = _entry_points()
    if not any(own for _, _, own in found):
        raise PluginError("vatting is not installed here, so its plugins cannot be found; run: pip install .")
    for name, entry, own in found:
        _add(plugins, manager, name, entry.load, own, name_and_version(entry.dist)[1] if entry.dist else "0")
    for stated in plugin_folders or []:
        place = (folder or Path()) / stated
        if not place.is_dir():
            plugins.problems.append(f"The plugin folder {stated} of site.toml does not exist.")
            plugins.left_out.add("*")
            continue
        for path in sorted(place.glob("*/plugin.py")):
            name = path.parent.name
            version = _folder_version(path.parent)
            if name not in plugins.names:
                plugins.site_plugins.add(name)
            _add(plugins, manager, name, lambda path=path: _load_file(path), False, version)
        for folder_of_files in sorted(path for path in place.iterdir() if path.is_dir()):
            if not (folder_of_files / "plugin.py").exists():
                _add_files(plugins, folder_of_files)
    return plugins


def _add_files(plugins: Plugins, folder: Path) -> None:
    """A folder without Python: each folder in it is named as a table, such as ``rules``, and holds files for it."""
    known = sorted(plugins.data)
    for table in sorted(path for path in folder.iterdir() if path.is_dir() and not path.name.startswith((".", "_"))):
        if table.name not in known:
            near = difflib.get_close_matches(table.name, known, 1)
            hint = f"; did you mean {near[0]}?" if near else f"; known are {', '.join(known)}"
            plugins.problems.append(f"Nobody reads the files in {folder.name}/{table.name}{hint}.")
            continue
        for path in sorted(path for path in table.iterdir() if path.is_file() and not path.name.startswith(".")):
            data = path.read_bytes()
            try:
                text = data.decode("utf-8-sig")
            except UnicodeDecodeError as error:
                said = f"The file {folder.name}/{table.name}/{path.name} is not UTF-8 text (byte {error.start})"
                plugins.problems.append(f"{said}; save it as UTF-8.")
                continue
            file = DataFile(folder.name, path.name, text, hashlib.sha256(data).hexdigest())
            plugins.data[table.name].append(file)
    if folder.name not in plugins.names:
        plugins.versions[folder.name] = _folder_version(folder)


def _entry_points() -> list[tuple[str, Any, bool]]:
    seen: dict[str, tuple[str, Any, bool]] = {}
    for entry in metadata.entry_points(group=hooks.PROJECT):
        own = entry.dist is not None and name_and_version(entry.dist)[0] == DISTRIBUTION
        seen.setdefault(entry.name, (entry.name, entry, own))
    return [seen[name] for name in sorted(seen, key=lambda n: (not seen[n][2], n))]


def _load_file(path: Path) -> ModuleType:
    """Import a site's plugin as vatting_site.NAME.plugin, so that it may import its own modules."""
    package = f"{SITE_PACKAGE}.{path.parent.name}"
    if SITE_PACKAGE not in sys.modules:
        sys.modules[SITE_PACKAGE] = ModuleType(SITE_PACKAGE)
        sys.modules[SITE_PACKAGE].__path__ = []
    for stale in [name for name in sys.modules if name == package or name.startswith(package + ".")]:
        del sys.modules[stale]
    parent = ModuleType(package)
    parent.__path__ = [str(path.parent)]
    sys.modules[package] = parent
    spec = importlib.util.spec_from_file_location(f"{package}.plugin", path)
    if spec is None or spec.loader is None:
        raise ImportError(f"{path.name} cannot be imported")
    module = importlib.util.module_from_spec(spec)
    sys.modules[f"{package}.plugin"] = module
    spec.loader.exec_module(module)
    return module


def _folder_version(folder: Path) -> str:
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        if path.is_file() and "__pycache__" not in path.parts:
            digest.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()[:12]


def _add(plugins: Plugins, manager: pluggy.PluginManager, name: str, load: Any, own: bool, version: str) -> None:
    trial = Plugins()
    try:
        if name in plugins.names:
            raise PluginError("another plugin has that name")
        module = load()
        stated = getattr(module, "api", None)
        if stated != hooks.API:
            states = "no api" if stated is None else f"api = {stated!r}"
            raise PluginError(f"it states {states}; this vatting wants api = {hooks.API}")
        manager.register(module, name=name)
        manager.check_pending()
        _collect(trial, manager, name, own)
        _check_words(trial.kinds)
        _check_beside(trial, plugins)
    except Exception as error:
        if manager.has_plugin(name) and name not in plugins.names:
            manager.unregister(name=name)
        what = str(error) if isinstance(error, PluginError) else f"{type(error).__name__}: {error}"
        said = f"Plugin {name} was left out: {what}".rstrip(".") + f"{_line_in_plugin(error)}."
        if own:
            raise _no_built_in(name, error) from error
        plugins.problems.append(said)
        plugins.left_out.add(name)
        return
    plugins.names.append(name)
    plugins.versions[name] = str(getattr(module, "version", version))
    for part in ("kinds", "settings", "units"):
        getattr(plugins, part).extend(getattr(trial, part))
    plugins.offers |= trial.offers
    for table, files in trial.data.items():
        plugins.data.setdefault(table, []).extend(files)


def _no_built_in(name: str, error: Exception) -> PluginError:
    return PluginError(f"The built-in plugin {name} cannot be loaded: {error}")


def _collect(plugins: Plugins, manager: pluggy.PluginManager, name: str, own: bool) -> None:
    """Call this plugin's hooks one by one, so that what is wrong is said of it and no other.

    Those of a built-in plugin's stages and reports can wait: one that fails stops everything then, too.
    """

    def call(hook: str) -> Any:
        caller = getattr(manager.hook, hook)
        mine = [implementation for implementation in caller.get_hookimpls() if implementation.plugin_name == name]
        made = mine[0].function() if mine else None
        wanted = dict if hook == "data_files" else (list, tuple)
        if made is not None and not isinstance(made, wanted):
            raise PluginError(
                f"its hook {hook} returns a {type(made).__name__}, not a {'mapping' if wanted is dict else 'list'}"
            )
        return made

    def declared(hook: str) -> list[Any]:
        try:
            made = [replace(declared, plugin=name) for declared in call(hook) or []]
            _check_paths([report for report in made if isinstance(report, Report)])
            return made
        except Exception as error:
            if own:
                raise _no_built_in(name, error) from error
            raise

    plugins.kinds = list(call("sheet_kinds") or [])
    offer = plugins.offers[name] = Offer(declared)
    if not own:
        offer.stages, offer.reports  # noqa: B018, one that fails is left out with all that it adds
    plugins.settings = list(call("settings") or [])
    plugins.units = list(call("unit_words") or [])
    for table, paths in (call("data_files") or {}).items():
        for path in paths:
            data = Path(path).read_bytes()
            file = DataFile(name, Path(path).name, data.decode("utf-8"), hashlib.sha256(data).hexdigest())
            plugins.data.setdefault(table, []).append(file)


def _line_in_plugin(error: Exception) -> str:
    """Where in plugin.py, or beside it, an error came up."""
    frames = [f for f in traceback.extract_tb(error.__traceback__) if "plugin" in Path(f.filename).name]
    return f" ({Path(frames[-1].filename).name} line {frames[-1].lineno})" if frames else ""


def _check_beside(trial: Plugins, plugins: Plugins) -> None:
    """What a plugin declares must not bear the name of what the engine or another plugin declared."""
    known = {kind.name for kind in plugins.kinds} | {RULINGS.name}
    doubled = [kind.name for kind in trial.kinds if kind.name in known]
    if doubled:
        raise PluginError(f"it declares the sheet kind {doubled[0]}, which is there already")
    paths = {setting.path for setting in (*ENGINE_SETTINGS, *plugins.settings)}
    again = [setting.path for setting in trial.settings if setting.path in paths]
    if again:
        raise PluginError(f"it declares the setting {again[0]}, which is there already")


def _check_paths(reports: list[Report]) -> None:
    for report in reports:
        parts = report.path.split("/")
        if not report.path or report.path.startswith("/") or ".." in parts or ":" in report.path or "\\" in report.path:
            raise PluginError(f"report {report.name} writes to {report.path!r}, which is no path inside the outputs")


def _check_words(kinds: list[SheetKind]) -> None:
    for kind in kinds:
        doubled = doubled_words(kind)
        if doubled:
            raise PluginError(f"sheet kind {kind.name} gives header words to two columns: {', '.join(doubled)}")
