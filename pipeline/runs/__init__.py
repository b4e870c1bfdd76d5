"""Whole ways through the rooms below: once, for ever, anew from the originals, for trial, and back to a cell.

May import: book, common, contract, inbox, kept, outputs, sheets, site, stages.
Read: run, gate, session, results, watch, heartbeat, replay, last_house, checking, dry_run, explain, explain_cells,
explain_folded, last_worked, signing.
"""
