"""The account of a batch: which reading gauges its vat, what was bottled, what was drawn and added.

May import: common, components, declared, pipeline, plugins.proof.
Read: bottled, vat_findings, vat_gauge, filter_gauges, entries, amounts_for_losses, balances.
"""
