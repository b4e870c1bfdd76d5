"""Ward's tree of many rows without their distances to each other: memory grows with the rows, not with their square.

A cluster is its mean and its size; neighbours are followed until two are each other's nearest, which are then joined
(the chain of nearest neighbours, Murtagh 1983; Ward 1963). The tree is that of SciPy's ``linkage(values, "ward")``.
"""

from __future__ import annotations

import numpy as np
from scipy.spatial.distance import cdist

FAR = 1e150  # where clusters lie that were joined to others


def ward_tree(values: np.ndarray) -> np.ndarray:
    """Joined clusters, nearest first: two ids, distance, size; as SciPy has it. Shape (rows − 1, 4)."""
    count = len(values)
    middle, size, place = np.array(values, dtype=float), np.ones(count), np.arange(count)
    joined = np.empty((count - 1, 3))
    chain: list[int] = []
    gone: list[int] = []
    for step in range(count - 1):
        if 4 * len(gone) > len(place):
            left = np.setdiff1d(np.arange(len(place)), gone)
            chain, gone = np.searchsorted(left, chain).tolist(), []
            middle, size, place = middle[left], size[left], place[left]
        one, other, apart = _nearest_pair(middle, size, chain)
        one, other = sorted((one, other))
        joined[step] = place[one], place[other], np.sqrt(2.0 * apart)
        both = size[one] + size[other]
        middle[other] = (size[one] * middle[one] + size[other] * middle[other]) / both
        middle[one], size[one], size[other] = FAR, 1.0, both
        gone.append(one)
    return _numbered(joined[np.argsort(joined[:, 2], kind="stable")])


def _nearest_pair(middle: np.ndarray, size: np.ndarray, chain: list[int]) -> tuple[int, int, float]:
    """Two clusters that are nearest to each other, taken off the end of the chain, and half their squared distance."""
    if not chain:
        chain.append(int(np.flatnonzero(middle[:, 0] < FAR)[0]))
    while True:
        last = chain[-1]
        apart = cdist(middle, middle[last : last + 1], "sqeuclidean")[:, 0] * (size * size[last] / (size + size[last]))
        apart[last] = np.inf
        near = int(apart.argmin())
        if len(chain) > 1 and apart[chain[-2]] <= apart[near]:
            return chain.pop(), chain.pop(), float(apart[near])
        chain.append(near)


def _numbered(joined: np.ndarray) -> np.ndarray:
    """Rows joined by any member → the numbers of the clusters that they are in by then, as SciPy numbers them."""
    count = len(joined) + 1
    above, sizes = np.arange(2 * count - 1), np.ones(2 * count - 1)
    made = np.empty((count - 1, 4))

    def root(place: int) -> int:
        while above[place] != place:
            above[place] = above[above[place]]
            place = int(above[place])
        return place

    for step, (one, other, apart) in enumerate(joined):
        first, second = sorted((root(int(one)), root(int(other))))
        above[first] = above[second] = count + step
        sizes[count + step] = sizes[first] + sizes[second]
        made[step] = first, second, apart, sizes[count + step]
    return made
