"""One batch as a package that others can check: its record, the originals it rests on, and its part of the journal.

May import: pipeline.
Read: others, contents, bag, check_dossier, command.
"""
