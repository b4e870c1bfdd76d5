"""The sheet of the filling line, the frames, and which rows can count for a verdict.

May import: pipeline.
Read: frames, kinds, narrow.
"""
