"""Whether an account closes: its balances as a network, the nearest figures that close it, the test of each.

May import: common, components, declared, pipeline, plugins.proof, vat.
Read: solver, levels, chance, network, tolerances, account, casks, judged, imbalance, reconciled, trying,
agreement_findings, agreement.
"""
