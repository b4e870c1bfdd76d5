"""The words on a label: which of them can be read as a statement, and as which; what cannot is kept as it stands.

May import: facts.
Read: lines, reading, amounts, ages_said, years_said, wood_said, places_said, names_said, said.
"""
