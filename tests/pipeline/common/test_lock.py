"""One process at a time works on a book."""

from __future__ import annotations

import logging
import os
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest

from pipeline.common.errors import BookHeld
from pipeline.common.lock import hold
from pipeline.common.logs import logging_to


def test_a_second_holder_is_told_who_holds(tmp_path: Path) -> None:
    """The second is refused in words, with the process; after the first ends it may."""
    with hold(tmp_path):
        with pytest.raises(BookHeld, match=f"process {os.getpid()}"):
            with hold(tmp_path):
                pass
    with hold(tmp_path):
        pass


def test_an_error_lets_the_lock_go(tmp_path: Path) -> None:
    """What fails inside does not leave the book locked."""
    with pytest.raises(ZeroDivisionError):
        with hold(tmp_path):
            raise ZeroDivisionError
    with hold(tmp_path):
        pass


def test_a_killed_process_leaves_no_lock(tmp_path: Path) -> None:
    """The operating system lets go for it."""
    script = textwrap.dedent(
        f"""
        import os
        from pathlib import Path
        from pipeline.common.lock import hold
        with hold(Path({str(tmp_path)!r})):
            os._exit(9)
        """
    )
    root = Path(__file__).parents[3]
    assert subprocess.run([sys.executable, "-c", script], cwd=root, timeout=300).returncode == 9
    assert (tmp_path / ".vatting.holder").exists()
    with hold(tmp_path):
        pass


def test_the_log_takes_tracebacks_and_no_handler_stays(tmp_path: Path) -> None:
    """log/vatting.log is for the developer; after a run nothing is left on the logger."""
    before = list(logging.getLogger("vatting").handlers)
    with logging_to(tmp_path):
        try:
            raise ZeroDivisionError("a stone")
        except ZeroDivisionError:
            logging.getLogger("vatting").exception("failed")
    assert logging.getLogger("vatting").handlers == before
    text = (tmp_path / "log" / "vatting.log").read_text("utf-8")
    assert "Traceback" in text and "a stone" in text
