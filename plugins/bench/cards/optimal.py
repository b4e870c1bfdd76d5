"""Which of many mixtures to pour: the choice that tells most about Scheffé's model (D-optimality).

The determinant of X'X is made as large as exchanges of one mixture for another can make it, from several starts.
A test holds it against trying every choice on small sets.
"""

from __future__ import annotations

from itertools import combinations

import numpy as np

from plugins.bench.cards.designs import Array, CannotDesign

MODELS = ("linear", "quadratic")
STARTS = 12
BETTER = 1.0 + 1e-9


def terms(shares: Array, model: str = "linear") -> Array:
    """Scheffé's terms of mixtures: the shares, and for ``quadratic`` the products of each pair, (n, p)."""
    if model not in MODELS:
        raise CannotDesign(f"The model is one of {', '.join(MODELS)}.")
    x = np.atleast_2d(np.asarray(shares, dtype=np.float64))
    if model == "linear":
        return x
    pairs = [x[:, one] * x[:, other] for one, other in combinations(range(x.shape[1]), 2)]
    return np.column_stack([x, *pairs])


def information(shares: Array, model: str = "linear") -> float:
    """det(X'X) of a design."""
    x = terms(shares, model)
    return float(np.linalg.det(x.T @ x))


def d_optimal(candidates: Array, runs: int, model: str = "linear", seed: int = 0) -> Array:
    """Places of ``runs`` candidates, sorted, some of them twice where that tells more, (runs,).

    Raises CannotDesign where the runs are fewer than the model's terms, or the candidates cannot tell them apart.
    """
    x = terms(candidates, model)
    count, p = x.shape
    if runs < p:
        raise CannotDesign(
            f"{runs} trials cannot tell the {p} terms of a {model} model of {np.shape(candidates)[1]} components; "
            f"take at least {p}, fewer components{'' if model == 'linear' else ', or the linear model'}."
        )
    if np.linalg.matrix_rank(x) < p:
        raise CannotDesign("The bounds leave too little room: no choice of mixtures tells these components apart.")
    random = np.random.default_rng(seed)
    best, most = np.zeros(0, dtype=np.int64), -np.inf
    for start in range(STARTS):
        first = _spread(x, runs, int(random.integers(count)) if start else None)
        chosen, found = _exchange(x, first)
        if found > most + 1e-9:
            best, most = chosen, found
    return np.sort(best)


def _spread(x: Array, runs: int, first: int | None) -> Array:
    """A start: one after another that which the earlier ones tell least of."""
    p = x.shape[1]
    chosen = [int(np.argmax((x**2).sum(axis=1)))] if first is None else [first]
    while len(chosen) < runs:
        inverse = np.linalg.inv(x[chosen].T @ x[chosen] + 1e-6 * np.eye(p))
        chosen.append(int(np.argmax(np.einsum("ij,jk,ik->i", x, inverse, x))))
    return np.array(chosen)


def _exchange(x: Array, chosen: Array) -> tuple[Array, float]:
    """Exchange one mixture for another as long as the determinant grows (Fedorov 1972, from memory)."""
    chosen = chosen.copy()
    p = x.shape[1]
    for _ in range(200):
        matrix = x[chosen].T @ x[chosen]
        if np.linalg.matrix_rank(matrix) < p:
            return chosen, -np.inf
        inverse = np.linalg.inv(matrix)
        cross = x[chosen] @ inverse @ x.T
        of_all = np.einsum("ij,jk,ik->i", x, inverse, x)
        of_own = of_all[chosen]
        # det after taking row i out and j in, over det before
        ratio = (1.0 - of_own)[:, None] * (1.0 + of_all)[None, :] + cross**2
        out, into = np.unravel_index(int(np.argmax(ratio)), ratio.shape)
        if ratio[out, into] <= BETTER:
            break
        chosen[out] = into
    sign, log = np.linalg.slogdet(x[chosen].T @ x[chosen])
    return chosen, float(log) if sign > 0 else -np.inf
