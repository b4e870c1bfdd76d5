"""How far tasters agree and differ, what to taste again, and how the lexicon may grow.

May import: declared, pipeline, profiles, samples, words.
Read: agreement, arithmetic, discrimination, growth, panel_stages, taste_again.
"""
