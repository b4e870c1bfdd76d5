"""A command of the site's own hears of trouble once, and once that it is over; it never stops the work."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import pytest

from pipeline.runs.alarm import OVER, Alarm
from pipeline.runs.heartbeat import HEARTBEAT, Heartbeat

APPEND = "import sys; open(sys.argv[1], 'ab').write(sys.stdin.buffer.read())"


def test_trouble_is_told_once_and_its_end_once(tmp_path: Path) -> None:
    heard = tmp_path / "heard.txt"
    alarm = Alarm([sys.executable, "-c", APPEND, str(heard)])
    for words in ("", "The disk is full: 0 B free, für jetzt.", "The disk is full: 0 B free, für jetzt.", "", ""):
        alarm.tell(words)
    assert heard.read_text("utf-8").splitlines() == ["The disk is full: 0 B free, für jetzt.", OVER]


@pytest.mark.parametrize("command", [["no-such-program-here"], [sys.executable, "-c", "raise SystemExit(3)"]])
def test_a_command_that_does_not_work_is_logged(command: list[str], caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level("WARNING", logger="vatting"):
        Alarm(command).tell("trouble")
    assert "watch.on_trouble did not work" in caplog.text


def test_the_sign_of_life_says_how_much_space_is_left(tmp_path: Path) -> None:
    Heartbeat(tmp_path, tmp_path).beat("waiting", at_once=True)
    assert json.loads((tmp_path / HEARTBEAT).read_bytes())["free_bytes"] > 0
