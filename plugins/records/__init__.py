"""The batch record, and all that people and programs read of findings and batches.

Rooms: dossier, workbooks, pages, record, declared.
May import: pipeline, plugins.proof.
Read: reports, plugin.
"""
