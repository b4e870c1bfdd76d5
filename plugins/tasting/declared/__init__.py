"""The tasting sheets, settings, frames and the lexicon's files.

May import: pipeline.
Read: data_files, frames_stock, kinds_samples, settings, kinds, frames, frames_panel.
"""
