"""Settings are read in the site's folder; an inbox's own count by hand only, and never for people, book and code."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline.commands.cli import main
from pipeline.common.errors import SettingsError
from pipeline.runs.run import rebuild, run
from pipeline.site.source import Source, find_source
from tests.pipeline import toy_plugin
from tests.pipeline.kit import NOW, Room, csv, use
from tests.pipeline.site.test_manager import plugin

OWN = """house = "The inbox"
book = "originals/journal.jsonl"
plugin_folders = ["mine"]
[rulings]
by = ["M. Blender"]
"""
RUNS = 'api = 1\nraise SystemExit("code from the inbox was run")\n'


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Room:
    use(monkeypatch, toy_plugin)
    made = Room(tmp_path)
    (made.site / "site.toml").unlink()
    return made


def in_inbox(room: Room, text: str = OWN) -> None:
    (room.inbox / "site.toml").write_text(text, "utf-8")


def test_an_inboxes_settings_count_by_hand_and_run_no_code(room: Room) -> None:
    """Its house counts, its book, plugins and people do not, in a run and in a rebuild; pages and console say so."""
    in_inbox(room)
    plugin(room.inbox, "stolen", RUNS)
    result = room.run(("lab.csv", csv("C-1,2026-03-02,120,20,B-1")))
    assert (room.out / "book.sqlite").is_file() and result.run.problems == []
    assert "Settings come from the inbox" in result.notes[0] and set(result.staying) == {"mine"}
    rebuild(room.out, now=NOW)
    told = CliRunner().invoke(main, ["run", str(room.inbox), "--out", str(room.out)]).output
    assert "Note: Settings come from the inbox" in told
    settings = CliRunner().invoke(main, ["settings", str(room.inbox), "--out", str(room.out)]).output
    assert 'book = "book.sqlite"   (default; it counts only in a site folder)' in settings
    assert 'house = "The inbox"' in settings


def test_the_site_folder_comes_first_and_can_be_named(room: Room, tmp_path: Path) -> None:
    """Beside the outputs, or named; an inbox's own does not count beside it."""
    in_inbox(room)
    room.set_site('house = "Beside"\n')
    other = tmp_path / "etc"
    other.mkdir()
    (other / "site.toml").write_text('house = "Named"\n', "utf-8")
    houses = {
        find_source(site, room.out, room.inbox, by_hand).table["house"]
        for site, by_hand in ((None, True), (None, False))
    }
    assert houses == {"Beside"} and find_source(other, room.out, room.inbox).table["house"] == "Named"
    assert run(room.inbox, room.out, now=NOW, site=other).notes == [
        "Nobody is listed who may rule: any name that is typed may rule and release."
    ]


def test_a_watch_never_goes_by_the_inbox(room: Room) -> None:
    """Without a site's folder every setting has its default."""
    in_inbox(room)
    assert find_source(None, room.out, room.inbox, by_hand=False) == Source(room.site)
    assert find_source(None, room.out, room.inbox, by_hand=False).table == {}


def test_a_site_folder_where_anybody_may_drop_is_refused(room: Room, tmp_path: Path) -> None:
    """In the inbox, in a folder of it, or by a link to it; and one without site.toml."""
    in_inbox(room)
    link = tmp_path / "link"
    link.symlink_to(room.inbox)
    for site in (room.inbox, link):
        with pytest.raises(SettingsError, match="lies in the inbox"):
            find_source(site, room.out, room.inbox)
    with pytest.raises(SettingsError, match="no site.toml in"):
        find_source(room.site, room.out, room.inbox)


def test_a_site_toml_in_the_inbox_is_no_link(room: Room, tmp_path: Path) -> None:
    """What a link leads to is not read as settings, nor quoted."""
    (tmp_path / "secret").write_text("secret = 1\n", "utf-8")
    (room.inbox / "site.toml").symlink_to(tmp_path / "secret")
    with pytest.raises(SettingsError, match="It is a link") as refused:
        run(room.inbox, room.out, now=NOW)
    assert "secret" not in str(refused.value)


@pytest.mark.parametrize("book", ["../book.sqlite", "a/../../b", ""])
def test_a_book_elsewhere_needs_an_absolute_path(room: Room, tmp_path: Path, book: str) -> None:
    """A relative one stays in the outputs; an absolute one of the site's folder may lie on another disk."""
    room.set_site(f'book = "{book}"\n')
    with pytest.raises(SettingsError, match="site.toml line 1: book.*absolute path"):
        room.run()
    room.set_site(f'book = "{tmp_path / "disk.sqlite"}"\n')
    room.run()
    assert (tmp_path / "disk.sqlite").is_file()


@pytest.mark.skipif(os.name == "nt", reason="mode bits")
def test_a_checkout_that_a_group_may_write_to_works(room: Room) -> None:
    """A clone made under umask 002: inbox 0775, site.toml 0664."""
    in_inbox(room, 'house = "Clone"\nafter_taking = "leave"\n')
    room.inbox.chmod(0o775)
    (room.inbox / "site.toml").chmod(0o664)
    room.drop("lab.csv", csv("C-1,2026-03-02,120,20,B-1"))
    assert [fate.outcome for fate in run(room.inbox, room.out, now=NOW).fates] == ["taken"]
    assert sorted(path.name for path in room.inbox.iterdir()) == ["lab.csv", "site.toml"]


@pytest.mark.skipif(os.name == "nt", reason="groups")
def test_outputs_belong_to_the_group_that_is_named(room: Room) -> None:
    """All there is and all that comes; one that the system does not know is said."""
    import grp

    room.run(("lab.csv", csv("C-1,2026-03-02,120,20,B-1")))
    group = max([os.getgid(), *os.getgroups()])
    room.set_site(f'group = "{grp.getgrgid(group).gr_name}"\n')
    room.run(("two.csv", csv("C-2,2026-03-02,120,20,B-9")))
    folders = [room.out, *(path for path in room.out.rglob("*") if path.is_dir())]
    assert all(path.stat().st_mode & 0o2000 for path in folders) and len(folders) > 3
    assert {path.stat().st_gid for path in room.out.rglob("*")} == {group}
    room.set_site('group = "no such group"\n')
    with pytest.raises(SettingsError, match="this system has no group"):
        room.run()


@pytest.mark.long
@pytest.mark.skipif(os.name == "nt", reason="mode bits")
@pytest.mark.parametrize("mask", [0o077, 0o027])
def test_outputs_keep_the_umask(room: Room, mask: int) -> None:
    """Whoever may not read by the umask may not read any output, original, book or log."""
    code = (
        f"import os; os.umask({mask}); from pathlib import Path; from pipeline.runs.run import run; "
        f"run(Path({str(room.inbox)!r}), Path({str(room.out)!r}))"
    )
    room.drop("lab.csv", b"nothing,that\nanybody,knows\n")
    room.drop("casks.csv", b"cask,filled_on\nK1,2020-06-01\n")
    subprocess.run([sys.executable, "-c", code], check=True)
    open_to_others = [path for path in (room.out, *room.out.rglob("*")) if path.stat().st_mode & mask]
    assert open_to_others == [] and len(list((room.out / "originals").iterdir())) > 1
