"""Finds and loads plugins: from entry points (the built-in ones too) and from the site's folders."""

from __future__ import annotations

import difflib
import hashlib
import importlib.util
import sys
from collections.abc import Callable, Collection
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from functools import cached_property
from importlib import metadata
from pathlib import Path
from types import ModuleType
from typing import Any

import pluggy

from pipeline.common.errors import PluginError, SettingsError
from pipeline.common.guarding import Misbehaved, guarded, place_of
from pipeline.contract import hooks
from pipeline.contract.commands import ENGINE_COMMANDS, name_and_version
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
SECONDS = 60.0  # for a plugin to load, and for each call of one that is not built in and says nothing else


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
class Added:
    """What one plugin adds, beside its stages and reports."""

    kinds: list[SheetKind] = field(default_factory=list)
    settings: list[Setting] = field(default_factory=list)
    units: list[UnitWords] = field(default_factory=list)
    data: dict[str, list[DataFile]] = field(default_factory=dict)
    commands: list[str] = field(default_factory=list)
    offer: Offer = field(default_factory=lambda: Offer(lambda hook: []))


@dataclass
class Plugins:
    """All loaded plugins and what they add, each thing knowing its plugin.

    ``places`` say where each came from; ``foreign`` are those that are not built in. ``left_out`` is by name, ``*`` for
    those of a folder that is not there; ``files`` are those of folders without Python, by table.
    """

    names: list[str] = field(default_factory=list)
    versions: dict[str, str] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    foreign: set[str] = field(default_factory=set)
    left_out: set[str] = field(default_factory=set)
    parts: dict[str, Added] = field(default_factory=dict)
    files: dict[str, list[DataFile]] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)

    def say_left_out(self, name: str, why: str) -> None:
        """Say why a plugin did not come in."""
        self.problems.append(f"Plugin {name} was left out: {why}".rstrip(".") + ".")
        self.left_out.add(name)

    def leave_out(self, name: str, why: str) -> None:
        """Go on without a plugin and all that it adds, and say why."""
        self.say_left_out(name, why)
        self.names.remove(name)
        self.foreign.discard(name)
        self.versions.pop(name, None)
        self.parts.pop(name, None)

    def leave_out_blamed(self, error: PluginError) -> bool:
        """Leave out the first plugin that is not built in and that an error is about; False where there is none."""
        blamed = sorted(self.foreign & error.plugins)
        if blamed:
            self.leave_out(blamed[0], str(error))
        return bool(blamed)

    @property
    def kinds(self) -> list[SheetKind]:
        return [kind for part in self.parts.values() for kind in part.kinds]

    @property
    def settings(self) -> list[Setting]:
        return [setting for part in self.parts.values() for setting in part.settings]

    @property
    def units(self) -> list[UnitWords]:
        return [words for part in self.parts.values() for words in part.units]

    @property
    def data(self) -> dict[str, list[DataFile]]:
        made: dict[str, list[DataFile]] = {}
        for data in (*(part.data for part in self.parts.values()), self.files):
            for table, files in data.items():
                made.setdefault(table, []).extend(files)
        return made

    @property
    def stages(self) -> list[Stage]:
        return [stage for part in self.parts.values() for stage in part.offer.stages]

    @property
    def reports(self) -> list[Report]:
        return [made for part in self.parts.values() for made in part.offer.reports if isinstance(made, Report)]

    @property
    def documents(self) -> list[Document]:
        return [made for part in self.parts.values() for made in part.offer.reports if isinstance(made, Document)]

    @property
    def data_files(self) -> dict[str, tuple[DataFile, ...]]:
        return {name: tuple(files) for name, files in sorted(self.data.items())}


def load_plugins(
    folder: Path | None = None, plugin_folders: list[str] | None = None, disabled: Collection[str] = ()
) -> Plugins:
    """Load every plugin but those ``disabled``. Raises SettingsError for one of these that is not there.

    ``plugin_folders`` are relative to ``folder``, the one with site.toml. A site's plugin that
    fails is left out and named in ``problems``; a built-in one raises PluginError.
    """
    plugins = Plugins()
    manager = pluggy.PluginManager(hooks.PROJECT)
    manager.add_hookspecs(hooks)
    found = _entry_points()
    if not any(own for _, _, own in found):
        raise PluginError("vatting is not installed here, so its plugins cannot be found; run: pip install .")
    there = {name for name, _, _ in found}
    for name, entry, own in found:
        if name in disabled:
            plugins.left_out.add(name)
            continue
        about = name_and_version(entry.dist) if entry.dist else ("", "0")
        if _add(plugins, manager, name, entry.load, own, about[1]):
            plugins.places[name] = "built in" if own else f"installed with {' '.join(about)}"
    for stated in plugin_folders or []:
        place = (folder or Path()) / stated
        if not place.is_dir():
            plugins.problems.append(f"The plugin folder {stated} of site.toml does not exist.")
            plugins.left_out.add("*")
            continue
        for path in sorted(place.glob("*/plugin.py")):
            name = path.parent.name
            there.add(name)
            if name in disabled:
                plugins.left_out.add(name)
                continue
            version = _folder_version(path.parent)
            if _add(plugins, manager, name, lambda path=path: _load_file(path), False, version):
                plugins.places[name] = f"the folder {path.parent}"
        for folder_of_files in sorted(path for path in place.iterdir() if path.is_dir()):
            if not (folder_of_files / "plugin.py").exists():
                _add_files(plugins, folder_of_files)
    _check_disabled(disabled, there)
    return plugins


def _check_disabled(disabled: Collection[str], there: Collection[str]) -> None:
    for name in disabled:
        if name not in there:
            near = difflib.get_close_matches(name, there, 1)
            hint = f"did you mean {near[0]}?" if near else f"there are {', '.join(sorted(there))}"
            raise SettingsError(f"[plugins] disabled or --without names {name}, which is no plugin; {hint}")


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
            plugins.files.setdefault(table.name, []).append(file)
    if folder.name not in plugins.names:
        plugins.versions[folder.name] = _folder_version(folder)


def _entry_points() -> list[tuple[str, Any, bool]]:
    """Name, entry and whether it is built in; these first. One that is found twice in one package counts once."""
    seen: dict[tuple[str, str], tuple[str, Any, bool]] = {}
    for entry in metadata.entry_points(group=hooks.PROJECT):
        of = name_and_version(entry.dist)[0] if entry.dist is not None else ""
        seen.setdefault((entry.name, of), (entry.name, entry, of == DISTRIBUTION))
    return sorted(seen.values(), key=lambda found: (not found[2], found[0]))


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


def _add(plugins: Plugins, manager: pluggy.PluginManager, name: str, load: Any, own: bool, version: str) -> bool:
    """Whether the plugin came in; one that did not is named among the problems."""
    trial = Added()
    try:
        if name in plugins.names:
            raise PluginError("another plugin has that name")
        with nullcontext() if own else guarded(name, SECONDS):
            module = load()
            _register(module, manager, name)
            _collect(trial, manager, name, own)
        _check_words(trial.kinds)
        _check_beside(trial, plugins)
    except Exception as error:
        if manager.has_plugin(name) and name not in plugins.names:
            manager.unregister(name=name)
        if own:
            raise _no_built_in(name, error) from error
        plugins.say_left_out(name, f"{_in_words(error)}{place_of(error)}")
        return False
    plugins.names.append(name)
    plugins.versions[name] = str(getattr(module, "version", version))
    plugins.parts[name] = trial
    if not own:
        plugins.foreign.add(name)
    return True


def _register(module: ModuleType, manager: pluggy.PluginManager, name: str) -> None:
    stated = getattr(module, "api", None)
    if stated != hooks.API:
        states = "no api" if stated is None else f"api = {stated!r}"
        raise PluginError(f"it states {states}; this vatting wants api = {hooks.API}")
    manager.register(module, name=name)
    try:
        manager.check_pending()
    except pluggy.PluginValidationError as error:
        raise PluginError(str(error).split(" in plugin ")[0]) from error


def _in_words(error: Exception) -> str:
    return str(error) if isinstance(error, (PluginError, Misbehaved)) else f"{type(error).__name__}: {error}"


def _no_built_in(name: str, error: Exception) -> PluginError:
    return PluginError(f"The built-in plugin {name} cannot be loaded: {error}")


def _collect(added: Added, manager: pluggy.PluginManager, name: str, own: bool) -> None:
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
            wanted, decorator = (Stage, "stage") if hook == "stages" else ((Report, Document), "report or document")
            given = list(call(hook) or [])
            strange = [one for one in given if not isinstance(one, wanted)]
            if strange:
                raise PluginError(f"its hook {hook} gives {strange[0]!r:.80}, which is not decorated as a {decorator}")
            made = [replace(one, plugin=name, seconds=0.0 if own else one.seconds or SECONDS) for one in given]
            _check_paths([report for report in made if isinstance(report, Report)])
            return made
        except Exception as error:
            if own:
                raise _no_built_in(name, error) from error
            raise

    added.kinds = [kind if own else replace(kind, plugin=name) for kind in call("sheet_kinds") or []]
    added.offer = Offer(declared)
    if not own:
        added.offer.stages, added.offer.reports  # noqa: B018, one that fails is left out with all that it adds
    added.settings = list(call("settings") or [])
    added.units = list(call("unit_words") or [])
    added.commands = [command.name for command in call("commands") or []]
    for table, paths in (call("data_files") or {}).items():
        for path in paths:
            if not Path(path).is_file():
                raise PluginError(
                    f"its data file {path} for {table} is not there; name it from the plugin's own folder"
                )
            data = Path(path).read_bytes()
            file = DataFile(name, Path(path).name, data.decode("utf-8"), hashlib.sha256(data).hexdigest())
            added.data.setdefault(table, []).append(file)


def _check_beside(trial: Added, plugins: Plugins) -> None:
    """What a plugin declares must not bear the name of what the engine or another plugin declared."""
    known = {kind.name for kind in plugins.kinds} | {RULINGS.name}
    doubled = [kind.name for kind in trial.kinds if kind.name in known]
    if doubled:
        raise PluginError(f"it declares the sheet kind {doubled[0]}, which is there already")
    paths = {setting.path for setting in (*ENGINE_SETTINGS, *plugins.settings)}
    again = [setting.path for setting in trial.settings if setting.path in paths]
    if again:
        raise PluginError(f"it declares the setting {again[0]}, which is there already")
    commands = {*ENGINE_COMMANDS, *(name for part in plugins.parts.values() for name in part.commands)}
    hidden = [name for name in trial.commands if name in commands]
    if hidden:
        raise PluginError(f"it adds the command {hidden[0]}, which is there already")


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
