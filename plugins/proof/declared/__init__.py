"""The gauger's sheets, settings and the frame of strengths.

May import: alcoholometry, pipeline.
Read: frames, kinds_instruments, settings, words, in_words, kinds.
"""
