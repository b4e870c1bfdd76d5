"""Whether some program has a file open for writing, where the system can tell: then it is not whole.

Linux grants a read lease on a file only while nobody has it open for writing. The lease is given
back at once. On a share it says nothing of writers on other machines.
"""

from __future__ import annotations

import errno
import os
import signal
import sys
from pathlib import Path


def being_written(path: Path) -> bool:
    """Whether a program of this machine writes the file; False where that cannot be told."""
    if sys.platform != "linux":
        return False
    import fcntl

    try:
        handle = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    except OSError:
        return False
    try:
        # a writer that comes while the lease is held: its signal must be one that does no harm
        fcntl.fcntl(handle, fcntl.F_SETSIG, signal.SIGURG)
        fcntl.fcntl(handle, fcntl.F_SETLEASE, fcntl.F_RDLCK)
    except OSError as error:
        return error.errno == errno.EAGAIN
    finally:
        os.close(handle)
    return False
