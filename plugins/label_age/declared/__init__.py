"""The sheet of the filling line and the frames.

May import: pipeline.
Read: frames, kinds.
"""
