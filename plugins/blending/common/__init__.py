"""Small things that all of blending uses: quantities from masses, look-ups by key, moments, kinds of name.

May import: pipeline, plugins.proof.
Read: amounts, lookups, moments, names, places.
"""
