"""The gauger's sheets, settings and the frame of strengths.

May import: pipeline.
Read: frames, kinds_instruments, settings, kinds.
"""
