"""What goes wrong around a watcher: lost events, dead observers, folders that go away, settings, full disks."""

from __future__ import annotations

import os
import shutil
import sqlite3
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from pipeline.book.book import Book
from pipeline.book.journal import Originals
from pipeline.common.disks import network_share
from pipeline.common.errors import SettingsError
from pipeline.common.files import sha256
from pipeline.inbox import noticing
from pipeline.inbox.noticing import Notice
from pipeline.inbox.wakeup import Bell
from pipeline.runs import watch
from pipeline.runs.watch import Stop, Watcher
from tests.pipeline import kit
from tests.support import lying_in
from tests.watch.kit import Watched, until

ROWS = kit.csv(*kit.ROWS)
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="events as Linux tells them")


def row(number: int) -> bytes:
    return kit.csv(f"V-{number},2026-03-02,100,20,")


def deaf(monkeypatch: pytest.MonkeyPatch) -> None:
    """From now on events are lost."""
    monkeypatch.setattr(Notice, "happened", lambda *_: None)


# --- events that do not come -----------------------------------------------------------------------


@pytest.mark.long
def test_lost_events_are_made_good_by_listing(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """An overflow loses events and tells nobody: all is listed every few minutes, here every second."""
    watched.settings(rescan_seconds=1.0)
    watched.start()
    deaf(monkeypatch)
    watched.room.drop("lab.csv", ROWS)
    watched.taken("lab.csv")


def test_without_an_event_for_a_trial_file_there_is_polling(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """A share that nobody knows to be one: it is found out at start, and said."""
    deaf(monkeypatch)
    monkeypatch.setattr(noticing, "PROBE_SECONDS", 0.2)
    watched.settings(notice="auto")
    watched.start()
    watched.room.drop("lab.csv", ROWS)
    watched.taken("lab.csv")
    assert watched.told("by polling (no event came for a trial file)") and watched.heartbeat()["by"] == "polling"
    assert lying_in(watched.inbox) == []


def test_where_a_trial_file_is_noticed_there_are_events(watched: Watched) -> None:
    """The trial file is gone afterwards, and was never taken."""
    watched.settings(notice="auto")
    watched.start()
    assert watched.told("by events (a trial file was noticed)") and not watched.fates
    assert lying_in(watched.inbox) == []


def test_a_network_share_is_polled(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the mount table says is a share is not tried; the book itself stays on a local disk."""
    monkeypatch.setattr(noticing, "network_share", lambda folder: "nfs4")
    watched.settings(notice="auto")
    watched.room.drop("lab.csv", ROWS)
    watched.start()
    watched.taken("lab.csv")
    assert watched.told("by polling (the inbox is on a network share (nfs4), from which no events come)")
    assert network_share(Path("/srv/in box"), "server:/x /srv/in\\040box cifs rw 0 0\n/dev/sda / ext4 rw 0 0") == "cifs"


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (28, "no more watched folders (fs.inotify.max_user_watches; the disk is not full)"),
        (24, "no more watchers (fs.inotify.max_user_instances)"),
        (38, "events cannot be had (Function not implemented)"),
    ],
)
def test_the_systems_limits_are_put_in_words(
    watched: Watched, monkeypatch: pytest.MonkeyPatch, number: int, words: str
) -> None:
    """ "No space left on device" is no full disk here: the inbox is polled instead."""

    def refused(self: Notice) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(Notice, "_start_observer", refused)
    watched.start()
    assert watched.told("by polling") and words in watched.told("by polling")[0]
    watched.room.drop("lab.csv", ROWS)
    watched.taken("lab.csv")


@pytest.mark.long
@pytest.mark.parametrize("what", ["emitter", "observer"])
def test_an_observer_that_died_is_begun_anew(watched: Watched, monkeypatch: pytest.MonkeyPatch, what: str) -> None:
    """A dead thread notices nothing and tells nobody: it is looked after, and said."""
    made: list[Any] = []
    plain = Notice._start_observer
    monkeypatch.setattr(Notice, "_start_observer", lambda self: (plain(self), made.append(self._observer))[0])
    watched.settings(rescan_seconds=1.0)
    watched.start()
    (observer,) = made
    (next(iter(observer.emitters)) if what == "emitter" else observer).stop()
    until(lambda: len(made) == 2)
    assert watched.told("Noticing had ended")
    watched.room.drop("lab.csv", ROWS)
    watched.taken("lab.csv")


def test_events_only_ring_and_never_fail() -> None:
    """Whatever the event is, the observer's thread survives it; looking at a file rings nothing."""
    bell = Bell()
    notice = Notice(Path("nowhere"), "polling", 1.0, bell)
    for what in ("opened", "closed_no_write"):
        notice.happened(what, "in/a.csv", "")
    assert not bell.wait(0.0)
    for what in ("created", "modified", "closed", "deleted", "moved", "unheard-of"):
        notice.happened(what, "in/a.csv", "in/b.csv" if what == "moved" else "")
        assert bell.wait(0.0)


@LINUX
def test_what_counts_as_a_rename(monkeypatch: pytest.MonkeyPatch) -> None:
    """Both ends of a move are seen, and a file that is made and not opened; one that is opened is being written."""
    clock = [100.0]
    monkeypatch.setattr(noticing.time, "monotonic", lambda: clock[0])
    notice = Notice(Path("nowhere"), "polling", 1.0, Bell())
    notice.happened("moved", "in/a.part", "in/a.csv")
    notice.happened("created", "in/from_outside.csv", "")
    notice.happened("created", "in/copy.csv", "")
    notice.happened("opened", "in/copy.csv", "")
    assert notice.arrived() == {"a.csv"} and notice.grace
    clock[0] += 1.0
    assert notice.arrived() == {"from_outside.csv"} and notice.arrived() == set() and notice.grace is None
    monkeypatch.setattr(noticing, "OPENS_ARE_TOLD", False)  # as on other systems
    notice.happened("created", "in/slow_copy.csv", "")
    clock[0] += 1.0
    assert notice.arrived() == set()


# --- folders that go away --------------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.parametrize("notice", ["events", "polling"])
def test_a_folder_that_is_moved_away_and_comes_back(watched: Watched, notice: str) -> None:
    """It is said, the outputs stay as they are, and what came meanwhile is taken."""
    watched.settings(notice=notice)
    watched.room.drop("lab.csv", ROWS)
    watched.start()
    until(lambda: watched.vessels() == {"C-1", "C-2", "C-3"} and watched.heartbeat()["state"] == "waiting")
    before = watched.room.bytes()
    away = watched.inbox.with_name("away")
    watched.inbox.rename(away)
    until(lambda: watched.told("is not there: the folder was moved, or its disk or share went away"))
    until(lambda: "went away" in (watched.out / "looked.js").read_text("utf-8"))
    assert watched.heartbeat()["trouble"].startswith("The inbox")
    changed = [name for name, data in watched.room.bytes().items() if data != before.get(name)]
    assert changed == ["looked.js"]
    (away / "other.csv").write_bytes(row(1))
    away.rename(watched.inbox)
    watched.taken("lab.csv", "other.csv")
    assert watched.told("is back")
    until(lambda: watched.heartbeat()["trouble"] == "")


@pytest.mark.long
@pytest.mark.parametrize("notice", ["events", "polling"])
def test_a_folder_that_is_replaced_by_another(watched: Watched, notice: str) -> None:
    """The same name, another folder: what watched the old one is of no use."""
    watched.settings(notice=notice)
    watched.start()
    other = watched.inbox.with_name("other")
    shutil.copytree(watched.inbox, other)
    (other / "there.csv").write_bytes(ROWS)
    watched.inbox.rename(watched.inbox.with_name("old"))
    other.rename(watched.inbox)
    watched.taken("there.csv")
    watched.room.drop("later.csv", row(1))
    watched.taken("there.csv", "later.csv")


@pytest.mark.long
def test_an_empty_place_where_a_share_was_is_no_inbox(watched: Watched) -> None:
    """A folder without the mark that was there: nothing is taken from it, nothing is written."""
    watched.settings("[tolerances]\ntoy_hot = 15")
    watched.room.drop("lab.csv", ROWS)
    watched.start()
    watched.taken("lab.csv")
    until(lambda: b"toy.hot" in (watched.out / "open.json").read_bytes())
    before = watched.room.bytes()
    mounted = watched.inbox.with_name("mounted")
    watched.inbox.rename(mounted)
    watched.inbox.mkdir()
    (watched.inbox / "stray.csv").write_bytes(row(1))  # lies under the mount
    until(lambda: watched.told("its mark is gone"))
    time.sleep(1.0)
    assert watched.names() == ["lab.csv"] and (watched.inbox / "stray.csv").exists()
    assert {name for name, data in watched.room.bytes().items() if data != before.get(name)} <= {"looked.js"}
    shutil.rmtree(watched.inbox)
    mounted.rename(watched.inbox)
    until(lambda: watched.told("are there again"))
    watched.room.drop("later.csv", row(2))
    watched.taken("lab.csv", "later.csv")
    settings = [line for line in watched.room.journal() if line["outcome"] == "settings"]
    assert len(settings) == 1


def test_settings_that_go_away_are_waited_for(watched: Watched) -> None:
    """Nothing is taken under other settings while the site's folder is away, nor when a watch is started then."""
    watched.settings("[tolerances]\ntoy_hot = 15")
    watched.room.drop("lab.csv", ROWS)
    watched.start()
    watched.taken("lab.csv")
    away = watched.room.site.with_name("away")
    watched.room.site.rename(away)
    watched.room.drop("later.csv", row(2))
    until(lambda: watched.told("site.toml is gone from"))
    assert watched.names() == ["lab.csv"]
    watched.stop()
    with pytest.raises(SettingsError, match="went by a site.toml until now"):
        Watcher(watched.inbox, watched.out, Stop(), lambda *_: None, print, print).watch()
    away.rename(watched.room.site)


def test_outputs_that_are_exchanged_under_a_watch(watched: Watched) -> None:
    """Nothing leaves the inbox into others; when they are back, what waited is taken."""
    watched.room.drop("lab.csv", ROWS)
    watched.start()
    watched.taken("lab.csv")
    away = watched.out.with_name("away")
    watched.out.rename(away)
    watched.out.mkdir()
    watched.room.drop("later.csv", row(2))
    until(lambda: watched.told("are not those that were opened") or watched.told("hold no journal"))
    assert lying_in(watched.inbox) == ["later.csv"] and watched.names() == ["lab.csv"]
    shutil.rmtree(watched.out)
    away.rename(watched.out)
    watched.taken("lab.csv", "later.csv")


def test_a_site_toml_in_the_inbox_is_told_and_left(watched: Watched) -> None:
    """It neither counts nor is it taken."""
    (watched.inbox / "site.toml").write_text('timezone = "Mars/X"\n', "utf-8")
    watched.start()
    assert watched.told("does not count") and lying_in(watched.inbox) == ["site.toml"]


# --- settings --------------------------------------------------------------------------------------


def test_site_toml_that_changes_is_read_again(watched: Watched) -> None:
    """The outputs follow it, without a file having come."""
    watched.room.drop("lab.csv", ROWS)
    watched.start()
    watched.taken("lab.csv")
    watched.settings("[tolerances]\ntoy_hot = 15")
    until(lambda: watched.told("site.toml has changed; it is read again"))
    until(lambda: b"toy.hot" in (watched.out / "open.json").read_bytes())
    watched.room.drop("later.csv", row(1))
    watched.taken("lab.csv", "later.csv")


@pytest.mark.long
def test_a_broken_site_toml_stops_taking_until_it_is_mended(watched: Watched) -> None:
    """In words with the line, on the screen and on the first page; the files wait."""
    watched.start()
    watched.settings("[tolerances]\ntoy_hott = 15")
    until(lambda: watched.told("toy_hott"))
    watched.room.drop("lab.csv", ROWS)
    time.sleep(0.5)
    said = watched.told("toy_hott")
    assert len(said) == 1 and "line" in said[0] and "the files wait in the inbox" in said[0]
    assert not watched.fates and "toy_hott" in watched.heartbeat()["trouble"]
    watched.settings()
    watched.taken("lab.csv")
    until(lambda: watched.heartbeat()["trouble"] == "")


@pytest.mark.long
def test_a_site_toml_that_is_being_saved_is_left_to_finish(watched: Watched, monkeypatch: pytest.MonkeyPatch) -> None:
    """Emptied, then written, then removed and put back: settings in between never count for anything."""
    monkeypatch.setattr(watch, "REST", 0.5)
    watched.start()
    text = (watched.room.site / "site.toml").read_text("utf-8")
    (watched.room.site / "site.toml").write_text("", "utf-8")  # an editor has opened it
    time.sleep(0.2)
    watched.room.set_site(text + "# half\n")
    time.sleep(0.2)
    (watched.room.site / "site.toml").unlink()
    time.sleep(0.1)
    watched.room.set_site(text + "# saved\n")
    watched.room.drop("lab.csv", ROWS)
    watched.taken("lab.csv")
    kept = {line["settings"] for line in watched.room.journal()}
    assert kept == {sha256(text.encode()), sha256((text + "# saved\n").encode())}


def test_a_first_start_with_a_broken_site_toml_ends(watched: Watched) -> None:
    """Nobody would see the words otherwise."""
    watched.settings("nonsense = 1")
    with pytest.raises(SettingsError, match="nonsense"):
        watched.watcher.watch()


# --- disks -----------------------------------------------------------------------------------------


def full(*_: object, **__: object) -> Any:
    raise OSError(28, "No space left on device", "originals")


def unwritable(*_: object, **__: object) -> Any:
    raise sqlite3.OperationalError("attempt to write a readonly database")


@pytest.mark.long
@pytest.mark.parametrize(
    ("owner", "name", "fails", "words"),
    [
        (Originals, "keep", full, "No space left on device: originals. The files wait in the inbox"),
        (Originals, "append", full, "No space left on device"),
        (Book, "enter", unwritable, "The book cannot be written (attempt to write a readonly database)"),
        (Book, "add_published", unwritable, "is the disk full or read-only?"),
    ],
)
def test_a_full_disk_is_said_and_recovered_from(
    watched: Watched, monkeypatch: pytest.MonkeyPatch, owner: Any, name: str, fails: Any, words: str
) -> None:
    """The files stay, nothing is entered twice, and all goes on by itself when there is space again."""
    watched.room.drop("first.csv", ROWS)
    watched.start()
    watched.taken("first.csv")
    with monkeypatch.context() as patch:
        patch.setattr(owner, name, fails)
        watched.room.drop("a.csv", row(1))
        watched.room.drop("b.csv", row(2))
        until(lambda: watched.told(words))
        until(lambda: words.split(".")[0] in watched.heartbeat()["trouble"])
        time.sleep(0.7)
        assert len(watched.told(words)) == 1  # said once, not with every try
    until(lambda: watched.vessels() == {"C-1", "C-2", "C-3", "V-1", "V-2"})
    until(lambda: watched.heartbeat()["trouble"] == "")
    numbers = [line["number"] for line in watched.room.journal()]
    assert numbers == list(range(1, len(numbers) + 1))
    taken = [line["name"] for line in watched.room.journal() if line["outcome"] == "taken"]
    assert sorted(taken) == ["a.csv", "b.csv", "first.csv"]
    until(lambda: lying_in(watched.inbox) == [])
    watched.stop()
    ours = watched.room.bytes()
    from pipeline.runs.run import rebuild

    rebuild(watched.out)
    theirs = watched.room.bytes()
    assert {name for name in ours if ours[name] != theirs.get(name)} <= {"looked.js"}


def test_outputs_that_cannot_be_written_are_made_when_they_can(
    watched: Watched, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file is taken and safe; only the pages wait."""
    watched.start()
    with monkeypatch.context() as patch:
        patch.setattr("pipeline.outputs.publish.replace_file", full)
        watched.room.drop("lab.csv", ROWS)
        watched.taken("lab.csv")
        until(lambda: watched.told("No space left on device"))
        assert watched.vessels() == set()
    until(lambda: watched.vessels() == {"C-1", "C-2", "C-3"})
    assert watched.names() == ["lab.csv"]
