"""How taste blends, and what tasted trials teach about it.

May import: declared, pipeline, plugins.proof, stock.
Read: taste, posterior, learn, moves, taste_stages, off_notes, taught_stages.
"""
