"""Calls code of a plugin so that what it does there stays its own: endings, prints, hanging, the folder it works in.

What cannot be held: a plugin is code with the rights of whoever runs vatting; ``os._exit`` ends the process, and what
it writes into the engine's modules stays there.
"""

from __future__ import annotations

import ctypes
import dis
import io
import logging
import os
import signal
import threading
import traceback
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stdout
from pathlib import Path
from types import FrameType, TracebackType

log = logging.getLogger("vatting")

AGAIN = 1.0  # seconds after which it is stopped again that went on


class Misbehaved(Exception):
    """A plugin's code did what would have stopped the house; says what, in words."""


class _TooLong(BaseException):
    """Raised in a plugin's code when its time is up; no ``except Exception`` there keeps it."""


@contextmanager
def guarded(name: str, seconds: float) -> Iterator[None]:
    """Run a plugin's code for at most so many seconds. Raises Misbehaved for what would end the program.

    What it prints goes to the log, the working folder is put back. A person's Ctrl-C goes through.
    """
    folder, printed = os.getcwd(), io.StringIO()
    try:
        with _limited(seconds), redirect_stdout(printed):
            yield
    except _TooLong as error:
        raise Misbehaved(f"it took longer than {seconds:g} s and was stopped") from error
    except (SystemExit, GeneratorExit) as error:
        raise Misbehaved(f"it would have ended the program ({type(error).__name__})") from error
    except KeyboardInterrupt as error:
        if not _was_raised(error.__traceback__):
            raise
        raise Misbehaved("it would have ended the program (KeyboardInterrupt)") from error
    finally:
        os.chdir(folder)
        for line in printed.getvalue().splitlines():
            log.info("plugin %s printed: %s", name, line[:400])


def _was_raised(at: TracebackType | None) -> bool:
    """Whether the code itself raised an error, not a signal in the midst of it."""
    while at is not None and at.tb_next is not None:
        at = at.tb_next
    return at is not None and dis.opname[at.tb_frame.f_code.co_code[at.tb_lasti]] == "RAISE_VARARGS"


@contextmanager
def _limited(seconds: float) -> Iterator[None]:
    by_signal = hasattr(signal, "setitimer") and threading.current_thread() is threading.main_thread()
    with _by_signal(seconds) if by_signal else _by_thread(seconds):
        yield


@contextmanager
def _by_signal(seconds: float) -> Iterator[None]:
    """A timer of the system, which wakes what waits, too."""

    def stop(_: int, __: FrameType | None) -> None:
        raise _TooLong

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, seconds, AGAIN)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
        signal.signal(signal.SIGALRM, before)


@contextmanager
def _by_thread(seconds: float) -> Iterator[None]:
    """Another thread raises it in this one; what waits for the system is stopped when that answers."""
    done, me = threading.Event(), threading.get_ident()

    def stop() -> None:
        left = seconds
        while not done.wait(left):
            ctypes.pythonapi.PyThreadState_SetAsyncExc(ctypes.c_ulong(me), ctypes.py_object(_TooLong))
            left = AGAIN

    watching = threading.Thread(target=stop, daemon=True)
    watching.start()
    try:
        yield
    finally:
        done.set()
        watching.join()


def place_of(error: BaseException, function: Callable[..., object] | None = None) -> str:
    """File and line of a plugin where an error came up, in brackets; where its function begins if it came up elsewhere.

    Without a function a plugin is told by the name of its file.
    """
    code = getattr(function, "__code__", None)
    folder = str(Path(code.co_filename).parent) if code else ""
    for cause in (error, error.__cause__):
        frames = traceback.extract_tb(cause.__traceback__) if cause else []
        own = [f for f in frames if (f.filename.startswith(folder) if folder else "plugin" in Path(f.filename).name)]
        if own:
            return f" ({Path(own[-1].filename).name} line {own[-1].lineno})"
    return f" ({Path(code.co_filename).name} line {code.co_firstlineno})" if code else ""
