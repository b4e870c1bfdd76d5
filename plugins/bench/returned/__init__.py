"""A bench card that comes back: glasses, choices and notes, read once, and what is wrong with the rest.

May import: cards, declared, pipeline, plugins.proof.
Read: reading, reading_stages, parts.
"""
