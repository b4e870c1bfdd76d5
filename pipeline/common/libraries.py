"""NumPy and pandas, loaded when something of them is first used: ``from pipeline.common.libraries import np, pd``.

Importing them costs more than many a command; one that only looks whether anything is new needs neither.
"""

from __future__ import annotations

from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any


class Library(ModuleType):
    """Stands for a module of the same name until something of it is asked for, and gives that."""

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__"):  # whoever only looks around loads nothing
            raise AttributeError(name)
        found = getattr(import_module(self.__name__), name)
        setattr(self, name, found)  # from now on found without coming here
        return found


if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
else:
    np, pd = Library("numpy"), Library("pandas")

__all__ = ["np", "pd"]
