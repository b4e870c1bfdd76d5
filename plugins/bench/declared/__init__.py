"""The bench's sheets, settings and frames: what each column means and what it is worked out from.

May import: pipeline.
Read: kinds, frames_answer, settings, frames.
"""
