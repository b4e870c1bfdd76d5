"""A brief and its stock as numbers, and the best choices of casks; why there is none; what can replace a cask.

May import: plugins.proof, taste.
Read: problem, case, search, solver, swaps, conflicts, runway, trade, measurable, plans.
"""
