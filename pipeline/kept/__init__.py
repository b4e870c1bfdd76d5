"""A kept result is good while the digest of what it was made from stands: digests, what they are of, and the store.

All of it lies in the folder ``kept/`` beside the book, is plain data, and may be deleted at any time.

May import: common, contract.
Read: digests, basis, frame_states, packed_frames, asked, store, environment, place.
"""
