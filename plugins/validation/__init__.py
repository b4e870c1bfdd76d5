"""Plausibility: readings, casks and blend sheets held against what other sheets say.

Rooms: casks, blends, readings, declared.
May import: pipeline.
Read: plugin.
"""
