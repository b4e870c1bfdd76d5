"""Lists what is installed with vatting and its tests, with the licence of each. Run: python -m tests.licences

A licence that is not permissive is told with what it asks for. Such packages come with the extra ``test`` alone: a
test holds that. What each package says of itself is shown; nobody else has looked at it.
"""

from __future__ import annotations

import re
import sys
import tomllib
from dataclasses import dataclass
from importlib import metadata

from packaging.requirements import Requirement

from tests.make_docs import ROOT

PERMISSIVE = re.compile(
    r"MIT|BSD|Apache|PSF|Python Software Foundation|ISC|Zlib|CC0|Unlicense|Enthought", re.IGNORECASE
)
COPYLEFT = re.compile(r"GPL|General Public|MPL|Mozilla|EUPL|CDDL|EPL", re.IGNORECASE)
NOTICES = {
    "hypothesis": "MPL 2.0: a changed file of it is passed on under the same licence. Tests use it unchanged.",
    "iapws": "GPL 3: what is passed on with it falls under the same licence. Only tests import it; never ship it.",
    "pathspec": "MPL 2.0: a changed file of it is passed on under the same licence. The type checker brings it.",
}


@dataclass(frozen=True)
class Licence:
    """One package: its licence as it states it, and whether it is installed for the tests alone."""

    name: str
    version: str
    licence: str
    test_only: bool

    @property
    def is_permissive(self) -> bool:
        """Whether it asks for no more than to be named."""
        return bool(PERMISSIVE.search(self.licence)) and not COPYLEFT.search(self.licence)


def needed(extra: str = "") -> set[str]:
    """Names of all packages that vatting needs, directly or not, with an extra's; those of other platforms aside."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    wanted = [*project["dependencies"], *(project["optional-dependencies"][extra] if extra else ())]
    found: set[str] = set()
    while wanted:
        name = plain(Requirement(wanted.pop()).name)
        if name not in found:
            found.add(name)
            asked = map(Requirement, metadata.distribution(name).requires or ())
            wanted += [str(one) for one in asked if one.marker is None or one.marker.evaluate({"extra": ""})]
    return found


def plain(name: str) -> str:
    """A package's name as it is compared."""
    return re.sub(r"[-_.]+", "-", name).lower()


def licences() -> list[Licence]:
    """All packages by name."""
    own, every = needed(), needed("test")
    made = []
    for name in sorted(every):
        about = metadata.metadata(name)
        classifiers = [c.rpartition(" :: ")[2] for c in about.get_all("Classifier") or () if c.startswith("License")]
        first = (about.get("License") or "").strip().partition("\n")[0]
        said = about.get("License-Expression") or ", ".join(classifiers) or first or "it states none"
        made.append(Licence(name, about["Version"], said, name not in own))
    return made


def main() -> int:
    """Print the list; 1 where what vatting itself needs is not permissive."""
    found = licences()
    for one in found:
        print(f"{one.name} {one.version}: {one.licence}{' (tests only)' if one.test_only else ''}")
        if not one.is_permissive:
            print(f"    Not permissive. {NOTICES.get(one.name, 'Nobody has looked at what it asks for.')}")
    print("\nvatting itself: no licence is stated; that is for its owner to choose.")
    return int(any(not one.is_permissive and not one.test_only for one in found))


if __name__ == "__main__":
    sys.exit(main())
