"""The record as plain data, its status and reasons, findings as tables.

To add a column to the record, add it to what ``record`` builds; pages and workbooks show it where they list it.

May import: declared, pipeline, plugins.proof.
Read: plain, words, claims, concerns, reconciled_figures, notices, signing, reasons, serials, retention, papers, steps,
record, causes, told, months, finding_tables.
"""
