"""The sheets, settings, frames and cautions of proposals.

May import: pipeline.
Read: cautions, frames, kinds, settings, frames_taught.
"""
