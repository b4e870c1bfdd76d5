"""The cellar's settings, frames and its kind of sheet: what each column means and what it is worked out from.

May import: pipeline.
Read: frames, settings, frames_stock, kinds, frames_lots.
"""
