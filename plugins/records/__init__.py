"""The batch record, and all that people and programs read of findings and batches.

Rooms: dossier, workbooks, pages, record.
May import: pipeline.
Read: reports, plugin.
"""
