"""The service units of pipeline/README.md: whole, and all for the same command."""

from __future__ import annotations

import configparser
import plistlib
import re
import shlex
import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest

from tests.make_docs import ROOT

README = (ROOT / "pipeline" / "README.md").read_text("utf-8")
TASK = "{http://schemas.microsoft.com/windows/2004/02/mit/task}"


def unit(name: str) -> str:
    """The block under the mark of that name."""
    found = re.search(rf"<!-- service unit: {name} -->\n```\w+\n(.*?)```", README, re.DOTALL)
    assert found, name
    return found[1]


def watches(arguments: list[str]) -> None:
    """watch INBOX --out OUTPUTS, and the two are not one folder."""
    assert arguments[0] == "watch" and arguments[2] == "--out" and len(arguments) == 4
    assert arguments[1].endswith("inbox") and arguments[3].endswith("outputs")


def test_the_systemd_unit_may_write_where_it_must(tmp_path: Path) -> None:
    """It runs the command, is started again when it fails, and both folders lie where it may write."""
    parser = configparser.ConfigParser(strict=True, interpolation=None)
    parser.optionxform = str  # type: ignore[method-assign, assignment]
    parser.read_string(unit("systemd"))
    service = parser["Service"]
    program, *arguments = shlex.split(service["ExecStart"])
    assert program.endswith("/vatting")
    watches(arguments)
    writable = Path(service["ReadWritePaths"])
    assert all(writable in Path(folder).parents for folder in (arguments[1], arguments[3]))
    assert service["ProtectSystem"] == "strict" and service["Restart"] == "on-failure"
    assert "MemoryDenyWriteExecute" not in service and parser["Install"]["WantedBy"] == "multi-user.target"


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="needs systemd")
def test_systemd_knows_every_line_of_the_unit(tmp_path: Path) -> None:
    """systemd-analyze finds no key or value that it does not know."""
    path = tmp_path / "vatting.service"
    # the program is not installed there where tests run; any that is there will do for the check
    path.write_text(unit("systemd").replace("/opt/vatting/.venv/bin/vatting", "/bin/true"), "utf-8")
    made = subprocess.run(["systemd-analyze", "verify", str(path)], capture_output=True, text=True, timeout=300)
    told = [line for line in (made.stdout + made.stderr).splitlines() if "vatting.service" in line]
    assert [line for line in told if re.search(r"unknown|invalid|ignoring|failed to parse", line, re.IGNORECASE)] == []
    broken = tmp_path / "broken.service"
    broken.write_text(path.read_text("utf-8").replace("ProtectSystem=strict", "ProtectSystems=strict"), "utf-8")
    made = subprocess.run(["systemd-analyze", "verify", str(broken)], capture_output=True, text=True, timeout=300)
    assert re.search(r"broken\.service.*unknown", made.stdout + made.stderr, re.IGNORECASE)  # it does look


def test_the_launchd_plist_is_one() -> None:
    """It can be read as a property list, runs the command and keeps it alive."""
    read = plistlib.loads(unit("launchd").encode("utf-8"))
    program, *arguments = read["ProgramArguments"]
    watches(arguments)
    assert program.endswith("/vatting") and read["RunAtLoad"] is True and read["KeepAlive"] == {"SuccessfulExit": False}
    assert read["Label"] == "vatting.watch" and f"system/{read['Label']}" in README and read["Umask"] == 0o027


def test_the_windows_task_is_one() -> None:
    """It can be read as XML, has no time limit and runs the command."""
    read = ElementTree.fromstring(unit("task scheduler"))
    assert read.findtext(f".//{TASK}ExecutionTimeLimit") == "PT0S"
    assert read.findtext(f".//{TASK}MultipleInstancesPolicy") == "IgnoreNew"
    arguments = str(read.findtext(f".//{TASK}Arguments")).replace('"', "").split()
    watches(arguments)
    assert str(read.findtext(f".//{TASK}Command")).endswith("vatting.exe")
    assert [child.tag.removeprefix(TASK) for child in read] == ["Triggers", "Principals", "Settings", "Actions"]
