"""Whole ways through the rooms below: once, for ever, anew from the originals, for trial, and back to a cell.

May import: book, common, contract, inbox, kept, outputs, sheets, site, stages, tables, verify, writing.
Read: run, gate, session, results, watch, heartbeat, alarm, replay, changes_noted, plugins_told, last_house, backup,
checking, dry_run, explain, explain_cells, explain_told, explain_folded, last_worked, signing, witness, rereading,
verifying.
"""
