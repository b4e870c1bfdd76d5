"""The batch record, and all that people and programs read of findings and batches.

Rooms: dossier, workbooks, pages, record, declared.
May import: pipeline.
Read: reports, month_reports, plugin.
"""
