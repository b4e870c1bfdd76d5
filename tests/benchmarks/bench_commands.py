"""Commands that should be cheap, in units of ``import pandas`` in a fresh process.

Run: python -m tests.benchmarks.bench_commands. Each figure is the least processor time (user and system) of a few
runs. Bytecode is compiled beforehand, as an installation does it. Aims: calc 1, the list of commands, settings and
sheets 1, check of a small file 3, explain 4.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.sized_house import sized_house

ROOT = Path(__file__).parents[2]
VATTING = [sys.executable, "-m", "pipeline"]
RUNS = 3


class Fresh:
    """Runs programs in fresh processes, with bytecode of their own."""

    def __init__(self, bytecode: Path) -> None:
        self.environment = {**os.environ, "PYTHONPYCACHEPREFIX": str(bytecode), "PYTHONPATH": str(ROOT)}
        self.environment.pop("PYTHONDONTWRITEBYTECODE", None)

    def seconds(self, command: list[str]) -> float:
        """Least processor time of a command, which must end well."""
        spent = []
        for _ in range(RUNS):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run(command, env=self.environment, stdout=subprocess.DEVNULL, check=True)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            spent.append(after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime)
        return min(spent)


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        fresh = Fresh(Path(folder) / "bytecode")
        inbox = sized_house(Path(folder) / "inbox", batches=3, each=20, casks=2, readings=10_000, notes=480)
        out = ["--out", str(Path(folder) / "outputs")]
        subprocess.run(
            [*VATTING, "run", str(inbox), *out], env=fresh.environment, stdout=subprocess.DEVNULL, check=True
        )
        commands = {
            "calc proof 193 75degF": (["calc", "proof", "193", "75degF"], 1.0),
            "--help": (["--help"], 1.0),
            "settings": (["settings", str(inbox)], 1.0),
            "sheet": (["sheet", "--inbox", str(inbox)], 1.0),
            "stages": (["stages", str(inbox)], None),
            "check of 63 readings": (["check", str(inbox / "lab.csv")], 3.0),
            "check of 60 lines of draws": (["check", str(inbox / "blends.csv")], 3.0),
            "explain of a cask": (["explain", "C-00001", *out], 4.0),
            "explain of a batch": (["explain", "B-0001", *out], 4.0),
        }
        unit = fresh.seconds([sys.executable, "-c", "import pandas"])
        print(f"import pandas {unit:.2f} s")
        for name, (words, aim) in commands.items():
            told = f" (aim {aim:g})" if aim else ""
            print(f"{name}: {fresh.seconds([*VATTING, *words]) / unit:.2f}{told}")


if __name__ == "__main__":
    main()
