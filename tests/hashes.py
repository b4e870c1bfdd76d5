"""Writes .ci/hashes.txt: the digest of every file that pip installs here with the tests. Run: python -m tests.hashes

It holds for this version of Python on this kind of machine, which its first line names; the CI checks it there. What
builds vatting itself is fetched by pip in a room of its own and is not among them.
"""

from __future__ import annotations

import json
import platform
import subprocess
import sys
import tomllib
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.make_docs import ROOT

FILE = ROOT / ".ci" / "hashes.txt"


def here() -> str:
    """What the digests hold for."""
    return f"# CPython {sys.version_info[0]}.{sys.version_info[1]} {platform.system()} {platform.machine()}"


def main() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    wanted = [*project["dependencies"], *project["optional-dependencies"]["test"]]
    with TemporaryDirectory() as folder:
        report = Path(folder) / "report.json"
        constraints = str(ROOT / ".ci" / "constraints.txt")
        asked = ["install", "--dry-run", "--ignore-installed", "-q", "--report", str(report), "-c", constraints]
        subprocess.run([sys.executable, "-m", "pip", *asked, *wanted], check=True)
        found = json.loads(report.read_text("utf-8"))["install"]
    lines = []
    for one in found:
        about, digest = one["metadata"], one["download_info"]["archive_info"]["hashes"]["sha256"]
        lines.append(f"{about['name']}=={about['version']} --hash=sha256:{digest}")
    FILE.write_text("\n".join([here(), *sorted(lines, key=str.lower)]) + "\n", "utf-8")


if __name__ == "__main__":
    main()
