"""The settings of the records, and the frame of months with records.

May import: pipeline.
Read: settings, frames.
"""
