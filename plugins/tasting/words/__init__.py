"""Finds the lexicon's words in a taster's note, and what is said of each. No pandas but in its stages.

May import: declared, pipeline.
Read: forms, terms, spelling, parts_of_notes, reading, matching, lexicon, notes.
"""
