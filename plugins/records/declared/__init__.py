"""The settings of the records.

May import: pipeline.
Read: settings.
"""
