"""Mistakes that a site's plugin may make: each is told with plugin, file, line and remedy, and costs only its part."""

from __future__ import annotations

import json
import logging
import signal
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from pipeline.commands.cli import main as commands
from pipeline.common.guarding import Misbehaved, guarded
from pipeline.inbox.bounded_reader import Reader
from pipeline.runs.run import Result
from pipeline.site.declared_checks import may_be_one
from pipeline.site.description import loosened
from pipeline.site.house import build_house
from pipeline.site.source import without
from tests.pipeline import toy_plugin
from tests.pipeline.kit import DAY, ROWS, Room, csv, use

HOT = "C-7,2026-03-02,120,55,B-1"
HEAD = """import pandas as pd
from pipeline import Column, Command, Finding, Frame, Setting, SheetColumn, SheetKind, document, hookimpl, report, stage

api = 1
OWN = Frame("own", ("vessel",), (Column("vessel", "text", uses=("gauges.vessel",)),), "x")
"""
STAGE = """
@stage(gives=OWN{more})
def make_own(gauges: pd.DataFrame{needs}):
    {body}

@hookimpl
def stages(): return [make_own]
"""
REPORT = """
@report(path="{path}"{more})
def own_page({needs}):
    {body}

@hookimpl
def reports(): return [own_page]
"""
KIND = """
@hookimpl
def sheet_kinds(): return [SheetKind({given})]
"""
EMPTY = "return OWN.empty()"


def of_stage(body: str = EMPTY, more: str = "", needs: str = "") -> str:
    return STAGE.format(body=body, more=more, needs=needs)


def of_report(body: str = "return b''", path: str = "own/page.txt", more: str = "", needs: str = "gauges") -> str:
    return REPORT.format(body=body, path=path, more=more, needs=needs)


def of_kind(given: str) -> str:
    return KIND.format(given=given)


FACTS = "tuple(gauges['facts'].iloc[0])"
RUNNING = {
    "an error": (of_stage("raise ValueError('boom')"), "ValueError: boom (plugin.py line 9)"),
    "sys.exit": (
        of_stage("import sys; sys.exit(0)"),
        "it would have ended the program (SystemExit) (plugin.py line 9)",
    ),
    "KeyboardInterrupt": (
        of_stage("raise KeyboardInterrupt"),
        "ended the program (KeyboardInterrupt) (plugin.py line 9)",
    ),
    "GeneratorExit": (of_stage("raise GeneratorExit"), "ended the program (GeneratorExit)"),
    "recursion": (of_stage("return make_own.function(gauges)"), "RecursionError"),
    "too long": (of_stage("import time; time.sleep(30)", ", seconds=0.2"), "it took longer than 0.2 s and was stopped"),
    "nothing": (of_stage("return None"), "expected a DataFrame, got NoneType (plugin.py line 7)"),
    "no finding": (of_stage("return OWN.empty(), ['x']"), "returned a str among its findings"),
    "a severity": (of_stage(f"return OWN.empty(), [Finding('own.x', 'bad', 'x', facts={FACTS})]"), "severity 'bad'"),
    "a code": (of_stage(f"return OWN.empty(), [Finding('Own X', 'note', 'x', facts={FACTS})]"), "not 'Own X'"),
    "facts of nobody": (
        of_stage("return OWN.empty(), [Finding('own.x', 'note', 'x', facts=(999,))]"),
        "rests on {999}",
    ),
    "a changed fact": (of_stage("gauges['facts'].to_numpy()[0] = (9,)\n    return OWN.empty()"), "read-only"),
    "a changed figure": (of_stage("gauges['reading'].to_numpy()[:] = 0\n    return OWN.empty()"), "read-only"),
}
LOADING = {
    "sys.exit": ("import sys; sys.exit(0)", "it would have ended the program (SystemExit) (plugin.py line 6)"),
    "no Python": ("def x(:", "SyntaxError"),
    "sys.exit in a hook": ("@hookimpl\ndef stages():\n    import sys; sys.exit(0)", "(SystemExit) (plugin.py line 8)"),
    "an unknown hook": ("@hookimpl\ndef stagess(): return []", "unknown hook 'stagess'"),
    "a hook of another type": ("@hookimpl\ndef stages(): return {}", "its hook stages returns a dict, not a list"),
    "a bare function": ("@hookimpl\ndef stages(): return [len]", "which is not decorated as a stage"),
    "a report among stages": (of_report().replace("def reports", "def stages"), "not decorated as a stage"),
    "a frame of nobody": (of_stage(needs=", guages"), "needs a frame guages, which nobody makes; did you mean gauges?"),
    "an optional frame": (
        of_stage(needs=", guages=None"),
        "may have a frame guages, which nobody makes; did you mean gauges",
    ),
    "a circle": (
        "A = Frame('fa', (), (Column('x'),))\nB = Frame('fb', (), (Column('x'),))\n"
        "@stage(gives=A)\ndef make_a(fb): return 1\n@stage(gives=B)\ndef make_b(fa): return 1\n"
        "@hookimpl\ndef stages(): return [make_a, make_b]",
        "the stages go round in a circle: fa needs fb; fb needs fa",
    ),
    "per no part of the key": (of_stage(more=", per='batch'"), "is per batch, which is no part of the key of own"),
    "per a column of nobody": (
        of_stage(more=", per='vat'").replace("gives=OWN", "gives=Frame('own', ('vat',), (Column('vat', 'text'),))"),
        "is per vat, a column of no frame that it needs (plugin.py line 7)",
    ),
    "a link": (of_stage(more=", links='gauges.nosuch = gauges.vessel'"), "links gauges.nosuch, which is nowhere"),
    "a link of another shape": (of_stage(more=", links='gauges.vessel'"), "is not like casks.cask"),
    "uses": (of_stage().replace("gives=OWN", "gives=Frame('own', (), (Column('x', uses=('nosuch.x',)),))"), "nosuch.x"),
    "another's frame": (of_stage().replace("gives=OWN", "gives=Frame('warm', (), (Column('x'),))"), "has two makers"),
    "a dtype": ("Column('x', 'integer')", "dtype 'integer' is not one of"),
    "a report's need": (
        of_report(needs="guages"),
        "report own_page needs guages, which nobody makes; did you mean gauges?",
    ),
    "a report per nothing": (of_report(path="own/{x}.txt", more=", per='nosuch.x'"), "is per nosuch.x"),
    "a report per no column": (of_report(path="own/{x}.txt", more=", per='gauges.x'"), "is per gauges.x"),
    "a path without its value": (of_report(more=", per='gauges.vessel'"), "must hold {vessel}"),
    "a path with a hole": (of_report(path="own/{vessel}.txt"), "may hold no {…}"),
    "a path out of the outputs": (of_report(path="../page.txt"), "which is no path inside the outputs"),
    "the path of the journal": (of_report(path="originals/journal.jsonl"), "which the engine keeps for itself"),
    "the path of the book": (of_report(path="Book.sqlite"), "which the engine keeps for itself"),
    "a path beside the book": (of_report(path="book.sqlite-wal"), "which the engine keeps for itself"),
    "a path among the attachments": (of_report(path="attachments/C-1/a.jpg"), "which the engine keeps for itself"),
    "a hidden path": (of_report(path=".vatting.lock"), "which the engine keeps for itself"),
    "the path of another": (of_report(path="warm.csv"), "report warm_file of plugin toy writes warm.csv"),
    "a path that another may have": (
        of_report(path="batches/B-1/record.json"),
        "of plugin toy writes batches/{batch}/",
    ),
    "a setting's type": ("Setting('own', 'x', 'integer', 1)", "type 'integer' is not one of text, number"),
    "a setting's default": ("Setting('own', 'x', 'number', 'five')", "its default 'five' is no number"),
    "a setting's bounds": ("Setting('own', 'x', 'number', 5.0, low=10.0)", "is not within its bounds"),
    "a setting's choices": ("Setting('own', 'x', 'text', 'a', choices=('b',))", "is not one of 'b'"),
    "another's setting": (
        "@hookimpl\ndef settings(): return [Setting('tolerances', 'toy_hot', 'number', 1.0)]",
        "it declares the setting tolerances.toy_hot, which is there already",
    ),
    "another's kind": (of_kind("'gauges', ('x',), (SheetColumn('x', 'text'),)"), "which is there already"),
    "the name of a frame": (
        of_kind("'warm', ('x',), (SheetColumn('x', 'text', required=True),)"),
        "which is a kind of sheet",
    ),
    "another's headers": (
        of_kind(
            "'readings', ('cask',), (SheetColumn('cask', 'text', required=True), "
            "SheetColumn('date', 'date', required=True), SheetColumn('reading', 'number', required=True))"
        ),
        "could take sheets of gauges, which have all that it requires: cask is vessel of gauges",
    ),
    "a kind's key": (of_kind("'own', ('nothing',), (SheetColumn('x', 'text'),)"), "names nothing, which it does not"),
    "a kind's type": (of_kind("'own', ('x',), (SheetColumn('x', 'texts'),)"), "type 'texts' is not one of"),
    "a quantity": (of_kind("'own', ('x',), (SheetColumn('x', 'number', quantity='gravity'),)"), "which nobody knows"),
    "a unit": (of_kind("'own', ('x',), (SheetColumn('x', 'number', quantity='mass', unit='stone'),)"), "is in stone"),
    "a data file": (
        "@hookimpl\ndef data_files(): return {'rules': ['nosuch.toml']}",
        "nosuch.toml for rules is not there",
    ),
    "another's command": ("@hookimpl\ndef commands(): return [Command('run', 'x', print)]", "it adds the command run"),
    "header words without a source": (
        "import pathlib\nwords = pathlib.Path(__file__).with_name('words.csv')\n"
        "words.write_text('english,language,words,source\\nvessel,de,Fass,\\n', 'utf-8')\n"
        "@hookimpl\ndef data_files(): return {'headers': [words]}",
        "the header words of the plugin own lack a source at 'vessel'",
    ),
    "a command without a function": ("Command('own', 'mine', 5)", "load as a function"),
}


@pytest.fixture
def house(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    use(monkeypatch, toy_plugin)
    return Room(tmp_path, 'timezone = "UTC"\nplugin_folders = ["plugins"]\n')


def with_plugin(room: Room, text: str, name: str = "own") -> Result:
    folder = room.site / "plugins" / name
    folder.mkdir(parents=True)
    (folder / "plugin.py").write_text(HEAD + text + "\n", "utf-8")
    return room.run(("lab.csv", csv(*ROWS, HOT)))


def others_work(room: Room, result: Result) -> bool:
    """Whether the file was taken, what the built-in stages say is said, and their files lie there."""
    said = [f.code for f in result.worked.findings]
    return "toy.hot" in said and [f.outcome for f in result.fates] == ["taken"] and (room.out / "warm.csv").exists()


@pytest.mark.parametrize("case", RUNNING)
def test_what_a_stage_does_wrong_costs_its_frame(house: Room, case: str) -> None:
    """One stop that names stage, plugin, file and line; the frame is missing, all else is there."""
    text, words = RUNNING[case]
    result = with_plugin(house, text)
    (said,) = [f for f in result.worked.findings if f.code == "stage.failed"]
    assert said.severity == "stop" and "stage make_own of plugin own" in said.message and words in said.message
    assert "own" in result.worked.missing and others_work(house, result)


@pytest.mark.parametrize("case", LOADING)
def test_what_is_declared_wrong_is_refused_at_start(house: Room, case: str) -> None:
    """The plugin is left out with all that it adds, and a finding says why; the others work."""
    text, words = LOADING[case]
    result = with_plugin(house, text)
    (said,) = [f for f in result.worked.findings if f.code == "plugin.not-loaded"]
    assert said.message.startswith("Plugin own was left out: ") and words in said.message
    assert others_work(house, result) and not (house.out / "own").exists()


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("return 'text'", "it gives a str, not bytes or None; texts want .encode('utf-8') (plugin.py line 7)"),
        ("import sys; sys.exit(0)", "it would have ended the program (SystemExit) (plugin.py line 9)"),
        ("raise ValueError('boom')", "ValueError: boom (plugin.py line 9)"),
        ("raise KeyboardInterrupt", "it would have ended the program (KeyboardInterrupt)"),
    ],
)
def test_what_a_report_does_wrong_costs_its_file(house: Room, body: str, words: str) -> None:
    result = with_plugin(house, of_report(body))
    (said,) = [f for f in result.worked.findings if f.code == "report.failed"]
    assert said.message.startswith(f"own/page.txt could not be made by report own_page of plugin own: {words}")
    assert others_work(house, result) and not (house.out / "own").exists()


def test_what_a_plugin_prints_goes_to_the_log(house: Room, capsys: Any, caplog: Any) -> None:
    """Nothing that a program reads from vatting's output is spoilt by it."""
    with caplog.at_level(logging.INFO, logger="vatting"):
        with_plugin(house, of_stage("print('hello\\nthere'); return OWN.empty()"))
    assert capsys.readouterr().out == "" and "plugin own printed: there" in caplog.text


def test_a_plugin_cannot_make_a_stop_a_note(house: Room) -> None:
    """A finding of the same code on the same row, less grave: what both say is said, as grave as the graver."""
    body = "return OWN.empty(), [Finding('toy.hot', 'note', 'all is well', 'C-7', facts=(f,), column='{}') for f in {}]"
    every = "[i for facts in gauges['facts'] for i in facts]"
    first = of_stage(body.format("temperature", every)).replace('"own"', '"aaa"')
    result = with_plugin(house, first.replace("gives=OWN", "gives=OWN"))
    (hot,) = [f for f in result.worked.findings if f.code == "toy.hot" and f.subject == "C-7" and f.severity != "note"]
    assert hot.severity == "stop"


def test_a_changed_setting_is_changed_for_nobody_else(house: Room) -> None:
    """A stage gets copies: it may not make a tolerance wider for the others."""
    body = "site.values['tolerances.toy_hot'] = 1000.0; site['markets'].append('XX'); return OWN.empty()"
    result = with_plugin(house, of_stage(body, needs=", site").replace('"own"', '"aaa"'))
    assert others_work(house, result) and result.worked.site["tolerances.toy_hot"] == 40.0
    assert result.worked.site.markets == () and not result.worked.missing


def test_a_sheet_that_fits_two_kinds_is_asked_about(house: Room) -> None:
    """A site's kind with a required column of its own that a sheet of another happens to have, under one header."""
    ph = "SheetColumn('ph', 'number', required=True, words='Temp (°C)=pH')"
    keys = "SheetColumn('cask', 'text', required=True), SheetColumn('date', 'date', required=True)"
    more = "SheetColumn('reading', 'number'), SheetColumn('batch', 'text')"
    kind = of_kind(f"'acids', ('cask', 'date'), ({keys}, {more}, {ph})")
    result = with_plugin(house, kind)
    problems = [f.message for f in result.worked.findings if f.code in ("file.returned", "plugin.not-loaded")]
    assert len(problems) == 1 and "fits two kinds of sheet by its headers: " in problems[0], problems
    assert "gauges" in problems[0] and "acids" in problems[0] and "(plugin own)" in problems[0]


def test_a_plugin_that_is_disabled_is_left_out_with_its_settings(house: Room) -> None:
    """A site's or an installed one, by site.toml of the site's folder alone; a name of nobody is an error in words."""
    house.set_site(
        'timezone = "UTC"\nplugin_folders = ["plugins"]\n[plugins]\ndisabled = ["own"]\n[plugins.own]\nx = 1\n'
    )
    result = with_plugin(house, of_stage("raise ValueError"))
    assert others_work(house, result) and "own" not in result.worked.frames
    assert not [f for f in result.worked.findings if f.code in ("stage.failed", "plugin.not-loaded")]
    assert ("plugins.disabled", "own") in [(one.setting, one.value) for one in result.run.loosened]
    with pytest.raises(Exception, match="--without names onw, which is no plugin; did you mean own"):
        build_house('plugin_folders = ["plugins"]\nplugins.disabled = ["onw"]\n', house.site)
    assert "toy" in build_house('plugins.disabled = ["toy"]\n', None).plugins.names


def test_a_plugin_is_left_out_for_one_command(house: Room) -> None:
    """``--without`` says what ``[plugins] disabled`` says, the first page too; the next run has the plugin again."""
    with_plugin(house, of_stage("raise ValueError"))
    asked = ["run", str(house.inbox), "--out", str(house.out), "--json"]
    told = CliRunner().invoke(commands, [*asked, "--without", "own"], catch_exceptions=False)
    assert json.loads(told.stdout)["problems"] == []
    again = CliRunner().invoke(commands, asked, catch_exceptions=False)
    assert "stage make_own of plugin own" in json.loads(again.stdout)["problems"][0]
    with without(["own", "own"]):
        left = build_house('plugin_folders = ["plugins"]\n', house.site)
        assert left.site["plugins.disabled"] == ["own"] and left.site.sources["plugins.disabled"] == "--without"
        assert left.plugins.names == ["toy"] and "own" in [one.value for one in loosened(left)]
    assert build_house('plugin_folders = ["plugins"]\n', house.site).plugins.names == ["toy", "own"]
    wrong = CliRunner().invoke(commands, [*asked[:-1], "--without", "onw"])
    assert wrong.exit_code == 1 and "--without names onw, which is no plugin; did you mean own?" in wrong.stderr


def test_a_plugin_says_what_it_is_and_did(house: Room) -> None:
    """At a prompt and on a page beside the log: where from, hooks, time, and its last failure after it was mended."""
    with_plugin(house, of_stage("raise ValueError('boom')"))
    plugin = house.site / "plugins" / "own" / "plugin.py"
    asked = ["stages", "--out", str(house.out), "--site", str(house.site), "--plugin"]
    told = CliRunner().invoke(commands, [*asked, "own", "--json"], catch_exceptions=False)
    failed = json.loads(told.stdout)
    assert failed["where"] == f"the folder {plugin.parent}" and failed["hooks"] == {"stages": ["own"]}
    assert failed["failed"].endswith("stage make_own of plugin own failed: ValueError: boom") and not failed["seconds"]
    plugin.write_text(plugin.read_text("utf-8").replace("raise ValueError('boom')", EMPTY), "utf-8")
    house.run()
    mended = CliRunner().invoke(commands, [*asked, "own"], catch_exceptions=False).stdout
    assert "own took 0." in mended and "ValueError: boom" in mended
    page = (house.out / "log" / "plugins.html").read_text("utf-8")
    assert (
        "ValueError: boom" in page and "toy" in page and "log/plugins.html" in [at for at, _ in house.run().run.links]
    )
    wrong = CliRunner().invoke(commands, [*asked, "onw"])
    assert wrong.exit_code == 1 and "no plugin is called onw; did you mean own?" in wrong.stderr


def test_a_reader_of_its_own_leaves_out_the_same_plugins(house: Room) -> None:
    """A large file is read by another process, which must know no more kinds than the house does."""
    with without(["own"]):
        kind = of_kind("'own', ('x',), (SheetColumn('x', 'name', required=True, words='Xyz'),)")
        folder = house.site / "plugins" / "own"
        folder.mkdir(parents=True)
        (folder / "plugin.py").write_text(HEAD + kind, "utf-8")
        with Reader('plugin_folders = ["plugins"]\n', house.site) as reader:
            reader.house = build_house(reader.text, reader.folder)
            judged = reader._apart("x.csv", b"Xyz\nX-1\n", DAY, {})
    assert judged.returned and not judged.sheets


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("a.csv", "A.csv", True),
        ("a.csv", "b.csv", False),
        ("x/{batch}.csv", "x/B-1.csv", True),
        ("x/{batch}.csv", "x/.csv", False),
        ("x/{batch}.csv", "x/{cask}.csv", True),
        ("x/{batch}.csv", "x/{cask}.html", False),
        ("x/a-{batch}.csv", "x/b-{cask}.csv", False),
        ("x/{batch}.csv", "y/x/{batch}.csv", False),
    ],
)
def test_paths_that_may_be_one(one: str, other: str, same: bool) -> None:
    assert may_be_one(one, other) is may_be_one(other, one) is same


def test_a_persons_ctrl_c_goes_through() -> None:
    """It comes by a signal in the midst of a plugin's code, not from a line that raises it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)  # whoever runs in the background ignores it
    try:
        threading.Timer(0.2, signal.raise_signal, [signal.SIGINT]).start()
        with pytest.raises(KeyboardInterrupt), guarded("own", 30.0):
            while True:
                time.sleep(0.01)
    finally:
        signal.signal(signal.SIGINT, before)


def test_time_is_bounded_in_any_thread() -> None:
    """Where there is no main thread's timer another thread stops it, even code that catches every error."""
    told: list[str] = []

    def work() -> None:
        try:
            with guarded("own", 0.1):
                while True:
                    try:
                        time.sleep(0.01)
                    except Exception:
                        pass
        except Misbehaved as error:
            told.append(str(error))

    worker = threading.Thread(target=work)
    worker.start()
    worker.join()
    assert told == ["it took longer than 0.1 s and was stopped"]
