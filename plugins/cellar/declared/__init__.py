"""The cellar's settings and frames: what each column means and what it is worked out from.

May import: pipeline.
Read: frames, settings, frames_stock.
"""
