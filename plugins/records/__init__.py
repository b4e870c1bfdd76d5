"""The batch record, and all that people and programs read of findings and batches.

Rooms: workbooks, pages, record.
May import: pipeline.
Read: reports, plugin.
"""
