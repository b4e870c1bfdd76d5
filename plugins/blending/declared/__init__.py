"""Blending's sheets, settings and frames: what each column means and what it is worked out from.

May import: pipeline, plugins.proof.
Read: frames, kinds_movements, kinds_casks, settings, kinds.
"""
