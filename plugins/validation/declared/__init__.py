"""What the checks give, and words that their sentences share.

May import: pipeline.
Read: frames, wording.
"""
