"""The doctor: each thing that can be wrong is said in words with its remedy, and nothing is left behind."""

from __future__ import annotations

import errno
import json
import os
import shutil
import socket
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from pipeline.commands.cli import main
from pipeline.common.lock import hold
from pipeline.doctor import check as doctor_check
from pipeline.doctor import folders as doctor_disk
from pipeline.doctor import watching as doctor_watch
from pipeline.doctor.all_checks import examine
from pipeline.doctor.check import Check, lasting, probe, sizes
from tests.pipeline.kit import NOW, ROWS, Room, csv

STEPS = {
    "list": "listdir",
    "write": "write_bytes",
    "read": "read_bytes",
    "make a folder": "mkdir",
    "rename": "rename",
    "delete": "unlink",
}


def tree(folder: Path) -> dict[str, bytes]:
    """Every file and folder below, with the files' bytes."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else b""
        for path in sorted(folder.rglob("*"))
    }


def said(checks: list[Check], topic: str, state: str | None = None) -> list[Check]:
    return [check for check in checks if check.topic == topic and state in (None, check.state)]


def the(checks: list[Check], topic: str, state: str | None = None) -> Check:
    found = said(checks, topic, state)
    assert len(found) == 1, checks
    return found[0]


def call(room: Room, *more: object) -> Any:
    return CliRunner().invoke(main, ["doctor", str(room.inbox), "--out", str(room.out), *map(str, more)])


# --- in order ------------------------------------------------------------------------------------------


def test_a_room_in_order_has_nothing_bad_and_nothing_is_changed(room: Room) -> None:
    """Before the first run and after it; every topic is spoken of; the trees are as before."""
    room.set_site('timezone = "America/New_York"\n')
    for _ in range(2):
        before = tree(room.inbox.parent)
        checks = examine(room.inbox, room.out)
        assert tree(room.inbox.parent) == before
        assert [check for check in checks if check.state == "bad"] == []
        topics = ("settings", "inbox", "outputs", "rights", "disk", "share", "book", "clock", "lock", "watch", "events")
        for topic in (*topics, "waiting", "originals", "time zone", "plugins", "versions"):
            assert said(checks, topic), topic
        assert all(check.remedy for check in checks if check.state != "OK")
        room.run(("lab.csv", csv(*ROWS)))
        room.now = datetime.now(UTC)
    assert "1 files taken, 3 originals, all there" in the(examine(room.inbox, room.out), "originals").said


def test_the_command_prints_lines_or_one_object_and_its_status(room: Room) -> None:
    """0 with nothing bad; 1 with something bad; --json has each check and the counts."""
    good = call(room)
    assert good.exit_code == 0 and "Nothing is bad" in good.output, good.output
    assert all(
        line.split()[0] in ("OK", "look") for line in good.output.split("\n\n")[0].splitlines() if line[0] != " "
    )
    answer = json.loads(call(room, "--json").stdout)
    assert answer["bad"] == 0 and answer["OK"] == sum(check["state"] == "OK" for check in answer["checks"])
    assert set(answer["checks"][0]) == {"topic", "state", "said", "remedy"}
    room.set_site("timezon = 1\n")
    bad = call(room)
    assert bad.exit_code == 1 and "bad  settings" in bad.output and "nearest known key is timezone" in bad.output
    assert "Traceback" not in bad.output and json.loads(call(room, "--json").stdout)["bad"] == 1


# --- folders and rights --------------------------------------------------------------------------------


def test_an_inbox_that_is_not_there(room: Room) -> None:
    """Said, with status 1, and not made."""
    shutil.rmtree(room.inbox)
    checks = examine(room.inbox, room.out)
    assert "is not there" in the(checks, "inbox").said and the(checks, "inbox").state == "bad"
    assert not room.inbox.exists() and not room.out.exists() and call(room).exit_code == 1


def test_folders_one_in_the_other(room: Room) -> None:
    """One folder for both is bad; one in the other is to be looked at; a file for outputs is bad."""
    assert the(examine(room.inbox, room.inbox), "outputs").state == "bad"
    assert the(examine(room.inbox, room.inbox / "out"), "outputs").state == "look"
    room.out.write_text("no folder")
    for out in (room.out, room.out / "below" / "it"):
        assert "is a file" in the(examine(room.inbox, out), "outputs", "bad").said


@pytest.mark.parametrize("step", STEPS)
def test_the_right_that_is_missing_is_named(room: Room, monkeypatch: pytest.MonkeyPatch, step: str) -> None:
    """Each of list, write, read, make a folder, rename and delete; the probe is gone afterwards."""
    real = getattr(os if step in ("list", "rename", "delete") else Path, STEPS[step])

    def refused(*arguments: Any, **more: Any) -> Any:
        if step in ("list", "rename", "delete") or ".vatting-probe" in str(arguments[0]):
            raise PermissionError(errno.EACCES, "Permission denied", str(arguments[0]))
        return real(*arguments, **more)

    with monkeypatch.context() as patched:
        patched.setattr(doctor_check.os if step in ("list", "rename", "delete") else Path, STEPS[step], refused)
        found = probe(room.inbox)
    assert (found.missing, found.why) == (step, "Permission denied")
    assert sorted(tree(room.inbox)) == [] or found.left  # a folder without the right to delete keeps it
    assert (step == "delete") >= bool(found.left)


@contextmanager
def nobody() -> Iterator[None]:
    """As a user without rights, where the tests run as root."""
    was = os.geteuid()
    if was == 0:
        os.seteuid(65534)
    try:
        yield
    finally:
        if was == 0:
            os.seteuid(was)


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="needs the rights of a Unix system")
@pytest.mark.parametrize(("mode", "missing"), [(0o555, "write"), (0o333, "list"), (0o777, "")])
def test_real_rights_are_found_out(mode: int, missing: str) -> None:
    """A folder that may be read only, or written only, for a real user."""
    with tempfile.TemporaryDirectory() as name:
        os.chmod(name, 0o755)
        folder = Path(name) / "inbox"
        folder.mkdir()
        folder.chmod(mode)
        with nobody():
            found = probe(folder)
        folder.chmod(0o755)
        assert found.missing == missing and not found.left and tree(folder) == {}


def test_outputs_that_another_user_made(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """A first run as root, then the service as somebody else: the files that are in the way are named."""
    room.run(("lab.csv", csv(*ROWS)))
    real = os.access
    monkeypatch.setattr(doctor_disk.os, "access", lambda path, mode: "book" not in str(path) and real(path, mode))
    check = the(doctor_disk.rights(room.inbox, room.out), "rights", "bad")
    assert "may not write to book.sqlite;" in check.said and str(room.out) in check.remedy


def test_a_missing_right_is_bad_with_the_folder_and_the_consequence(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sentence says who, what and where; a full or read-only disk has its own remedy."""
    for why, remedy in (
        ("Permission denied", "Give"),
        ("No space left on device", "Free space"),
        ("Read-only file system", "mount"),
    ):
        monkeypatch.setattr(doctor_disk, "probe", lambda folder, why=why: doctor_check.Probe("rename", why))
        checks = doctor_disk.rights(room.inbox, room.out)
        assert {check.state for check in checks} == {"bad"}
        assert "may not rename" in checks[0].said and "claimed" in checks[0].said and remedy in checks[0].remedy


# --- disk and clock ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("free", "state"), [(200e6, "bad"), (1e9, "look"), (50e9, "OK")])
def test_free_space_against_the_largest_file(
    room: Room, monkeypatch: pytest.MonkeyPatch, free: float, state: str
) -> None:
    """Below three times the largest file a run may fail; said in GB."""

    class Usage:
        pass

    usage = Usage()
    usage.free = free  # type: ignore[attr-defined]
    monkeypatch.setattr(doctor_disk.shutil, "disk_usage", lambda folder: usage)
    check = the(examine(room.inbox, room.out), "disk")
    assert check.state == state and sizes(free) in check.said


def test_a_book_on_a_share_is_bad_and_an_inbox_on_one_is_polled(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """The book is refused with the setting that mends it; an inbox on a share is fine and will be polled."""
    for module in (doctor_disk, doctor_watch):
        monkeypatch.setattr(module, "network_share", lambda folder: "cifs")
    checks = examine(room.inbox, room.out)
    assert "cifs" in the(checks, "book", "bad").said and "book = " in the(checks, "book").remedy
    assert the(checks, "share").state == "OK" and "Polling will be used" in the(checks, "events").said


def test_a_clock_behind_the_last_file_taken(room: Room) -> None:
    """The journal's last line is later than now: the clock was set back."""
    room.run(("lab.csv", csv(*ROWS)))
    early = doctor_disk.clock(room.inbox, room.out, NOW - timedelta(days=3))
    assert the(early, "clock").state == "bad" and "3 days before the last file was taken" in the(early, "clock").said
    assert the(doctor_disk.clock(room.inbox, room.out, NOW + timedelta(days=3)), "clock").state == "OK"


def test_a_disk_whose_clock_is_apart(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """A share with another clock is to be looked at."""
    monkeypatch.setattr(doctor_disk, "probe", lambda folder: doctor_check.Probe(ahead_seconds=-90.0))
    check = the(doctor_disk.clock(room.inbox, room.out, NOW), "clock", "look")
    assert "1 minute behind" in check.said


def test_lost_originals_are_named(room: Room) -> None:
    """An original that the journal names and nobody finds; a journal that is gone or damaged."""
    room.run(("lab.csv", csv(*ROWS)))
    (line,) = [line for line in room.journal() if line["name"] == "lab.csv"]
    lost = room.out / "originals" / line["sha256"]
    data = lost.read_bytes()
    lost.unlink()
    check = the(examine(room.inbox, room.out), "originals")
    assert check.state == "bad" and "lab.csv" in check.said and "backup" in check.remedy
    lost.write_bytes(data[:-1])
    assert "cut short: lab.csv" in the(examine(room.inbox, room.out), "originals", "bad").said
    lost.write_bytes(data)
    assert the(examine(room.inbox, room.out), "originals").state == "OK"
    journal = room.out / "originals" / "journal.jsonl"
    journal.write_bytes(b"broken\n" + journal.read_bytes())
    assert "line 1 is damaged" in the(examine(room.inbox, room.out), "originals", "bad").said
    journal.unlink()
    assert "no originals/journal.jsonl" in the(examine(room.inbox, room.out), "originals", "bad").said


# --- watching ------------------------------------------------------------------------------------------


def test_who_holds_the_lock_is_said_and_it_stays_held(room: Room) -> None:
    """Looking neither takes the lock away nor leaves one behind."""
    assert not room.out.exists() and "No other vatting" in the(examine(room.inbox, room.out), "lock").said
    assert not room.out.exists()
    with hold(room.out):
        assert f"process {os.getpid()}" in the(examine(room.inbox, room.out), "lock").said
        assert "works on these outputs now" in the(examine(room.inbox, room.out), "lock").said
    assert "No other vatting" in the(examine(room.inbox, room.out), "lock").said
    with hold(room.out):
        pass


@pytest.mark.parametrize(
    ("told", "state", "words"),
    [
        (
            '{"at": "2026-06-01T11:59:48Z", "pid": 7, "state": "looking"}',
            "OK",
            "12 seconds ago (process 7, state: looking)",
        ),
        (
            '{"at": "2026-06-01T09:00:00Z", "pid": 7, "state": "looking"}',
            "bad",
            "3 hours ago and must be dead or stuck",
        ),
        ('{"at": "2026-05-30T12:00:00Z", "pid": 7, "state": "stopped"}', "look", "stopped 2 days ago"),
        ('{"at": "2026-06-01T11:59:48", "pid": 7}', "OK", "not said"),
        ("[]", "look", "cannot be read"),
        ("half a li", "look", "cannot be read"),
        ('{"at": 7}', "look", "cannot be read"),
        (None, "look", "No watch has looked"),
    ],
)
def test_the_heartbeat_is_told_in_words(room: Room, told: str | None, state: str, words: str) -> None:
    """A watch that looks, one that is dead, one that was stopped, none at all, and a spoilt file."""
    room.out.mkdir()
    if told is not None:
        (room.out / doctor_watch.HEARTBEAT).write_text(told, "utf-8")
    check = the(doctor_watch.heartbeat(room.out, NOW), "watch")
    assert check.state == state and words in check.said


def test_events_are_tried_for_real(room: Room) -> None:
    """On a local disk of Linux an event arrives, the probe is gone, and no thread is left."""
    import threading

    before = threading.active_count()
    seconds, fault = doctor_watch.time_to_event(room.inbox)
    assert fault is None and seconds is not None and seconds < doctor_watch.PATIENCE
    assert sorted(tree(room.inbox)) == [] and threading.active_count() == before


def test_no_event_means_polling(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """An observer to which nothing is told, as on a share that does not say that it is one."""
    from watchdog.observers.polling import PollingObserver

    monkeypatch.setattr("watchdog.observers.Observer", lambda: PollingObserver(timeout=60))
    monkeypatch.setattr(doctor_watch, "PATIENCE", 0.2)
    assert doctor_watch.time_to_event(room.inbox, 0.2) == (None, None)
    monkeypatch.setattr(doctor_watch, "time_to_event", lambda inbox: (None, None))
    check = the(doctor_watch.events(room.inbox), "events")
    assert check.state == "look" and "Polling will be used" in check.said
    assert sorted(tree(room.inbox)) == []


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (errno.ENOSPC, "fs.inotify.max_user_watches"),
        (errno.EMFILE, "fs.inotify.max_user_instances"),
        (errno.EINVAL, "some seconds later"),
        (errno.EACCES, "read the folder"),
    ],
)
def test_limits_of_the_system_are_translated(
    room: Room, monkeypatch: pytest.MonkeyPatch, code: int, words: str
) -> None:
    """What watchdog raises when the system's limits are reached becomes a sentence with the remedy."""

    class Full:
        def schedule(self, *_: Any, **__: Any) -> None:
            pass

        def start(self) -> None:
            raise OSError(code, os.strerror(code))

        def is_alive(self) -> bool:
            return False

    monkeypatch.setattr("watchdog.observers.Observer", Full)
    check = said(doctor_watch.events(room.inbox), "events")[0]
    assert check.state == ("bad" if code == errno.EACCES else "look") and words in check.remedy
    assert "Polling will be used" in check.said or code == errno.EACCES


def test_narrow_limits_are_said_before_they_are_reached(tmp_path: Path) -> None:
    """Few watches or instances per user: look; wide or unknown ones are not spoken of."""
    (tmp_path / "max_user_watches").write_text("128\n")
    (tmp_path / "max_user_instances").write_text("8\n")
    (check,) = doctor_watch.limits(tmp_path)
    assert check.state == "look" and "128" in check.said and "watchers of one user: 8" in check.said
    (tmp_path / "max_user_watches").write_text("524288\n")
    (tmp_path / "max_user_instances").write_text("512\n")
    assert doctor_watch.limits(tmp_path) == [] and doctor_watch.limits(tmp_path / "none") == []


def test_what_waits_is_counted(room: Room) -> None:
    """Files to take, files an interrupted run had begun, and nothing that is passed over."""
    assert "Nothing waits" in the(doctor_watch.waiting(room.inbox, NOW), "waiting").said
    for name in ("a.csv", "b.csv", "~$a.xlsx", ".hidden"):
        room.drop(name, b"x")
    (room.inbox / ".taking").mkdir()
    (room.inbox / ".taking" / "c.csv").write_bytes(b"x")
    checks = doctor_watch.waiting(room.inbox, NOW)
    assert "c.csv" in the(checks, "waiting", "look").said and "2 files lie" in the(checks, "waiting", "OK").said


# --- site ----------------------------------------------------------------------------------------------


def test_the_time_zone_and_its_source(room: Room) -> None:
    """Stated: the line; not stated: to be looked at."""
    room.set_site('house = "H"\ntimezone = "Asia/Tokyo"\n')
    check = the(examine(room.inbox, room.out), "time zone")
    assert check.state == "OK" and "Asia/Tokyo, site.toml line 2" in check.said
    room.set_site('house = "H"\n')
    check = the(examine(room.inbox, room.out), "time zone")
    assert check.state == "look" and "the default" in check.said and "timezone = " in check.remedy
    (room.site / "site.toml").unlink()
    assert "There is no site.toml" in the(examine(room.inbox, room.out), "settings", "look").said


def test_a_plugin_left_out_is_bad(room: Room) -> None:
    """With the reason that a run would give; the others are listed with their versions."""
    (room.site / "mine" / "broken").mkdir(parents=True)
    (room.site / "mine" / "broken" / "plugin.py").write_text("api = 1\nraise ValueError('no')\n")
    room.set_site('timezone = "UTC"\nplugin_folders = ["mine"]\n')
    checks = examine(room.inbox, room.out)
    assert "broken" in the(checks, "plugins", "bad").said and "toy" in the(checks, "plugins", "OK").said
    libraries = said(checks, "versions")[1].said
    assert all(f"{name} " in libraries for name in ("watchdog", "pandas", "openpyxl")) and "pytest" not in libraries


def test_a_look_that_fails_does_not_stop_the_others(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    """What nobody foresaw is a line of its own."""

    def fails(*_: Any) -> Any:
        raise RuntimeError("a stone")

    monkeypatch.setattr(doctor_watch, "lock", fails)
    checks = examine(room.inbox, room.out)
    assert "RuntimeError: a stone" in the(checks, "lock", "look").said and said(checks, "versions")


def test_odd_things_in_the_inbox_do_not_upset_it(room: Room) -> None:
    """A socket, a link to nothing, a name that is no text, a folder in .taking."""
    if hasattr(socket, "AF_UNIX"):
        short = Path(tempfile.mkdtemp())
        with socket.socket(socket.AF_UNIX) as made:
            made.bind(str(short / "s"))
            os.rename(short / "s", room.inbox / "s.csv")
        short.rmdir()
    (room.inbox / "link.csv").symlink_to(room.inbox / "nowhere")
    (room.inbox / ".taking" / "folder").mkdir(parents=True)
    (room.inbox / os.fsdecode(b"caf\xe9.csv")).write_bytes(b"x")
    result = call(room)
    assert result.exit_code == 0 and "Traceback" not in result.output, result.output
    assert call(room, "--json").exit_code == 0


def test_figures_in_words() -> None:
    """Sizes and times as people say them."""
    assert [sizes(n) for n in (500, 2_000_000, 3.21e9, 1.5e12)] == ["0.5 kB", "2 MB", "3.21 GB", "1.5 TB"]
    assert [lasting(n) for n in (1, 59, 60, 7200, 200_000)] == [
        "1 second",
        "59 seconds",
        "1 minute",
        "2 hours",
        "2 days",
    ]
