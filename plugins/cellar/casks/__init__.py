"""The fillings of casks and what is known of each in order of time.

May import: declared, pipeline, plugins.proof.
Read: names, strengths, fillings, changes, histories.
"""
