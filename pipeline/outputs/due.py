"""What documents and reports are kept under, what of them is due, and their data as text."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pipeline.contract.stages import Document, Report
from pipeline.kept.basis import Basis
from pipeline.kept.digests import Hashes


def maker(made: Document | Report) -> str:
    """What documents and reports are kept under."""
    return f"report {made.path}" if isinstance(made, Report) else f"document {made.gives}"


@dataclass
class Dirty:
    """Of a document or report what must be made again: all, or the subjects of some ids; and on what basis."""

    basis: Basis
    ids: Hashes | None

    def among(self, ids: Hashes) -> NDArray[np.bool_]:
        """Which of the subjects of these ids must be made again, shape (ids,)."""
        return np.ones(len(ids), bool) if self.ids is None else np.isin(ids, self.ids)


def as_text(document: Document, data: Any) -> str:
    """Plain data as JSON, so that it is the same whether it was just made or kept. Raises TypeError in words."""
    try:
        text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    except (TypeError, ValueError) as error:
        raise TypeError(f"document {document.gives} of plugin {document.plugin} is no plain data: {error}") from error
    return text
