"""Whether a folder lies on a disk of this machine: a book on a network share would be lost sooner or later."""

from __future__ import annotations

import os
from pathlib import Path

NETWORK = {
    *("nfs", "nfs4", "cifs", "smb3", "smbfs", "afpfs", "ncpfs", "webdav", "davfs", "ceph", "glusterfs"),
    *("fuse.sshfs", "fuse.davfs2", "fuse.rclone"),
}


def network_share(folder: Path, mounts: str | None = None) -> str:
    """The kind of network share a folder lies on; empty for a local disk, or where it cannot be told.

    ``mounts`` is the text of the system's mount table, read from /proc/mounts on Linux.
    """
    if os.name == "nt" and str(folder.absolute()).startswith("\\\\"):
        return "a network path"
    if mounts is None:
        try:
            mounts = Path("/proc/mounts").read_text("utf-8", "replace")
        except OSError:
            return ""
    best, kind = "", ""
    place = str(folder.resolve())
    for line in mounts.splitlines():
        parts = line.split()
        if len(parts) < 3:
            continue
        point = parts[1].replace("\\040", " ")
        inside = place == point or place.startswith(point.rstrip("/") + "/")
        if inside and len(point) >= len(best):
            best, kind = point, parts[2]
    return kind if kind in NETWORK else ""
