"""The doctor on folders: rights, space, shares, clocks, and whether the originals are all there."""

from __future__ import annotations

import os
import shutil
from datetime import datetime
from pathlib import Path

from pipeline.book.journal import Originals, named
from pipeline.common.disks import network_share
from pipeline.common.errors import JournalBroken
from pipeline.doctor.check import BAD, LOOK, OK, Check, few, lasting, nearest_folder, probe, sizes
from pipeline.runs.backup import last_rehearsal
from pipeline.site.house import House

FILE_MEGABYTES = 100.0
CLOCK_APART = 2.0  # seconds by which a disk's clock may differ before waiting for quiet goes wrong
SHOWN = 3
USES = {
    "list": "so that nothing in it would be seen",
    "write": "so that nothing can be put there",
    "read": "so that what lies there cannot be taken",
    "make a folder": "so that a file could not be set aside while it is taken",
    "rename": "so that a file could not be claimed before it is read",
    "delete": "so that what was taken would stay and be claimed again",
}


def folders(inbox: Path, out: Path) -> list[Check]:
    """Whether both are there, and apart."""
    if not inbox.is_dir():
        what = "is no folder" if inbox.exists() else "is not there"
        return [Check("inbox", BAD, f"The inbox {inbox} {what}.", "Make the folder, mount it, or name the right one.")]
    here, there = inbox.resolve(), out.resolve()
    checks = [Check("inbox", OK, f"The inbox is {here}.")]
    above = next(path for path in (there, *there.parents) if os.path.lexists(path))
    if not above.is_dir():
        said = f"{above} is a file, where the outputs should be."
        checks.append(Check("outputs", BAD, said, "Name another with --out."))
    elif here == there:
        remedy = "Name another folder with --out: what is published would be taken as dropped."
        checks.append(Check("outputs", BAD, "Inbox and outputs are one folder.", remedy))
    elif here in there.parents or there in here.parents:
        remedy = "Better keep them side by side, so that nobody drops a file into the wrong one."
        checks.append(Check("outputs", LOOK, f"The one lies in the other: {here} and {there}.", remedy))
    else:
        yet = "" if out.is_dir() else "; they are not there yet, the first run makes them"
        checks.append(Check("outputs", OK, f"The outputs are {there}{yet}."))
    return checks


def rights(inbox: Path, out: Path) -> list[Check]:
    """List, write, read, rename and delete, tried with a file of its own in each folder."""
    checks = []
    looked = [("inbox", inbox, "the inbox")] if inbox.is_dir() else []
    if out.is_dir() or not out.exists():
        above = nearest_folder(out)
        looked.append(("outputs", above, "the outputs" if out.is_dir() else f"{above}, where the outputs will lie"))
    for name in ("originals", "returned", "exceptions", "batches"):
        if (out / name).is_dir():
            looked.append(("outputs", out / name, f"outputs/{name}"))
    for topic, folder, called in looked:
        checks += _right(topic, folder, called)
    tried = sum(check.state == OK for check in checks)
    good = [check for check in checks if check.state == OK and check.topic == "outputs"]
    if tried == len(checks) and len(good) > 1:  # one line for all is enough when nothing is wrong
        said = f"The outputs and {len(good) - 1} folders in them: list, write, read, rename and delete work."
        checks = [check for check in checks if check.topic == "inbox"]
        checks.append(Check("rights", OK, said))
    named = ("book.sqlite", "originals/journal.jsonl", ".vatting.lock", "log/vatting.log", "index.html")
    closed = [name for name in named if (out / name).is_file() and not os.access(out / name, os.R_OK | os.W_OK)]
    if closed:
        said = f"In the outputs {_user()} may not write to {', '.join(closed)}; another user ran vatting there before."
        checks.append(Check("outputs", BAD, said, f"Give everything in {out} to the user who runs vatting."))
    return [Check("rights", check.state, check.said, check.remedy) for check in checks]


def _user() -> str:
    return f"user {os.getuid()}" if hasattr(os, "getuid") else "this user"


def _right(topic: str, folder: Path, called: str) -> list[Check]:
    found = probe(folder)
    if not found.missing:
        said = f"{called[:1].upper()}{called[1:]}: list, write, read, rename and delete work."
        return [Check(topic, OK, said)]
    who = _user()
    said = f"In {called} {who} may not {found.missing} ({found.why}), {USES[found.missing]}."
    remedy = f"Give {who} the right to list, read, write, rename and delete in {folder}."
    if "No space" in found.why:
        remedy = "Free space on that disk."
    if "Read-only" in found.why:
        remedy = f"{folder} lies on a disk that is mounted to be read only; mount it to be written."
    if found.left:
        remedy += f" Remove what could not be removed: {found.left}."
    return [Check(topic, BAD, said, remedy)]


def space(inbox: Path, out: Path, house: House | None) -> list[Check]:
    """Free space where the originals and the book grow, and in the inbox."""
    largest = (house.site["limits.file_megabytes"] if house else FILE_MEGABYTES) * 1e6
    places = {"outputs": nearest_folder(out)}
    if inbox.is_dir() and os.stat(inbox).st_dev != os.stat(places["outputs"]).st_dev:
        places["inbox"] = inbox
    checks = []
    for name, folder in places.items():
        free = shutil.disk_usage(folder).free
        said = f"{sizes(free)} are free where the {name} lie{'s' if name == 'inbox' else ''}"
        if free < 3 * largest:
            needs = f"; a file of {sizes(largest)}, the largest that is taken, may need three times its size"
            checks.append(Check("disk", BAD, said + needs + ".", "Free space, or put the outputs on a larger disk."))
        elif free < 20 * largest:
            checks.append(
                Check("disk", LOOK, said + ".", "Free space before it runs out; nothing in originals/ may go.")
            )
        else:
            checks.append(Check("disk", OK, said + "."))
    return checks


def shares(inbox: Path, out: Path, house: House | None) -> list[Check]:
    """Local disk or network share: for the inbox it decides on polling, for the book it is refused."""
    checks = []
    if inbox.is_dir():
        share = network_share(inbox)
        if share:
            said = f"The inbox lies on a network share ({share}): what others drop there is found by looking, not told."
            checks.append(Check("share", OK, said))
        else:
            checks.append(Check("share", OK, "The inbox lies on a disk of this machine, as far as can be told."))
    book = out / (house.site["book"] if house else "book.sqlite")
    share = network_share(nearest_folder(book.parent))
    if share:
        said = (
            f"The book {book} would lie on a network share ({share}), where it cannot be kept safe; a run refuses it."
        )
        remedy = 'State a folder on a local disk in site.toml: book = "/var/lib/vatting/book.sqlite".'
        checks.append(Check("book", BAD, said, remedy))
    elif not nearest_folder(book.parent).samefile(book.parent) if out.is_dir() else False:
        said = f"The folder of the book, {book.parent}, is not there."
        checks.append(Check("book", BAD, said, "Make it, or state another as book in site.toml."))
    else:
        there = f"{sizes(book.stat().st_size)}" if book.is_file() else "not there yet"
        checks.append(Check("book", OK, f"The book is {book} ({there}), on a disk of this machine."))
    return checks


def clock(inbox: Path, out: Path, now: datetime) -> list[Check]:
    """The machine's clock against the last file taken, and each disk's clock against the machine's."""
    checks = []
    latest = ""
    with_journal = Originals(out / "originals")
    try:
        latest = max((line["taken_at"] for line in with_journal.lines()), default="")
    except (JournalBroken, KeyError):
        pass  # said by the look at the originals
    said = f"The clock of this machine says {now:%Y-%m-%d %H:%M:%S} UTC"
    if latest and datetime.fromisoformat(latest) > now:
        behind = lasting((datetime.fromisoformat(latest) - now).total_seconds())
        said += f", which is {behind} before the last file was taken ({latest})."
        checks.append(Check("clock", BAD, said, "Set the clock, and let it be kept by the network's time."))
    elif now.year < 2025:
        checks.append(Check("clock", BAD, said + ", which cannot be.", "Set the clock."))
    else:
        checks.append(Check("clock", OK, said + "."))
    for name, folder in (("inbox", inbox), ("outputs", out)):
        if folder.is_dir():
            apart = probe(folder).ahead_seconds
            if abs(apart) > CLOCK_APART:
                way = "ahead of" if apart > 0 else "behind"
                said = f"The disk of the {name} is {lasting(abs(apart))} {way} this machine's clock."
                remedy = "Let both machines keep their clocks by the same time server; ages of files are told by it."
                checks.append(Check("clock", LOOK, said, remedy))
    return checks


def originals(out: Path) -> list[Check]:
    """Whether the journal can be read and each original it names is there. Bytes are not read again."""
    kept = Originals(out / "originals")
    if not kept.path.exists():
        if (out / "book.sqlite").exists():
            said = "The outputs have a book, but no originals/journal.jsonl."
            return [Check("originals", BAD, said, "Restore originals/ from the backup.")]
        return [Check("originals", OK, "No file was taken yet.")]
    try:
        lines = kept.lines()
    except JournalBroken as error:
        return [Check("originals", BAD, f"{error}.")]
    wanted: dict[str, tuple[str, int | None]] = {}
    for line in lines:
        for digest in named(line):
            own = digest == line["sha256"]
            wanted.setdefault(digest, (str(line["name"]), line.get("size")) if own else ("site.toml", None))
    there = {entry.name: entry.stat().st_size for entry in os.scandir(kept.folder)}
    lost = [
        f"{few([Path(name)])} ({digest[:12]}…)"
        for digest, (name, size) in wanted.items()
        if digest not in there or (size is not None and there[digest] != size)
    ]
    if lost:
        more = f" and {len(lost) - SHOWN} more" if len(lost) > SHOWN else ""
        said = f"Of {len(wanted)} originals {len(lost)} are lost or cut short: {', '.join(lost[:SHOWN])}{more}."
        return [Check("originals", BAD, said, "Restore originals/ from the backup, then vatting rebuild.")]
    taken = sum(line.get("outcome") == "taken" for line in lines)
    size, last = sizes(sum(there.values())), lines[-1]["taken_at"]
    said = f"{taken} files taken, {len(wanted)} originals, all there ({size}); the last at {last}."
    return [Check("originals", OK, said)]


def rehearsal(out: Path, now: datetime) -> list[Check]:
    """When a restore was last rehearsed, and what came of it."""
    remedy = (
        "vatting backup FOLDER copies what cannot be made again; vatting restore FOLDER --check rehearses the restore."
    )
    if not (out / "originals" / "journal.jsonl").is_file():
        return []
    last = last_rehearsal(out)
    if last is None:
        return [Check("backup", LOOK, "No restore of these outputs was rehearsed yet.", remedy)]
    ago = lasting(max((now - datetime.fromisoformat(last.at)).total_seconds(), 0.0))
    said = f"A restore was rehearsed {ago} ago with the backup of {last.backup_of}: "
    if not last.good:
        return [
            Check("backup", BAD, f"{said}{len(last.differ)} records differed, {len(last.problems)} problems.", remedy)
        ]
    return [Check("backup", OK, f"{said}{last.originals} originals, {last.compared} records equal, {last.seconds} s.")]
