"""Readings held against the history of their filling: which do not fit, and which slip would mend them.

May import: declared, pipeline, plugins.proof.
Read: histories, slips, names, table, habits, judge, reading_rows, volumes, strength_findings, reading_checks.
"""
