"""``vatting calc``: what is typed, reckoned and printed at a prompt.

May import: alcoholometry, declared, gauging, pipeline.
Read: typed_in, reckon, printed, reckon_reading, reckon_dip, command.
"""
