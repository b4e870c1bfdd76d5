"""Accounts and groups of the system: who owned a file, and who may read what is written."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from pathlib import Path

from pipeline.common.errors import SettingsError

NOT_TOLD = "the system does not tell"
SHARED = 0o2000  # what is made in such a folder belongs to the folder's group


def accounts(remote: bool) -> Callable[[int | None], str]:
    """What tells the account of an owner: by name, else by number. On a share all are the mounter's."""
    known: dict[int, str] = {}

    def account(owner: int | None) -> str:
        if owner is None or remote or sys.platform == "win32":
            return NOT_TOLD
        if owner not in known:
            import pwd

            try:
                known[owner] = pwd.getpwuid(owner).pw_name
            except KeyError:
                known[owner] = f"user {owner}"
        return known[owner]

    return account


def give_to_group(folder: Path, name: str) -> None:
    """Let a folder, all in it and all that will be made in it belong to a group. Raises SettingsError, in words."""
    if not name:
        return
    if sys.platform == "win32":
        raise SettingsError("group: this system has no such groups; give rights to the folder of the outputs instead")
    import grp

    try:
        group = grp.getgrnam(name).gr_gid
    except KeyError:
        raise SettingsError(f"group: this system has no group {name!r}") from None
    found = os.stat(folder)
    if found.st_gid == group and found.st_mode & SHARED:
        return
    try:
        for place, folders, files in os.walk(folder):
            for path in (Path(place, one) for one in (*folders, *files)):
                _give(path, group)
        _give(folder, group)  # the last, so that a half done walk is done again
    except PermissionError as error:
        raise SettingsError(
            f"group: {folder} cannot be given to {name!r}. Be a member of it, or do it once by hand: "
            f"chgrp -R {name}, then chmod g+s on each folder in it"
        ) from error


def _give(path: Path, group: int) -> None:
    if path.is_symlink():
        return
    os.chown(path, -1, group)
    if path.is_dir():
        os.chmod(path, (path.stat().st_mode & 0o7777) | SHARED)
