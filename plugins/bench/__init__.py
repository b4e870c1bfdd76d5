"""The bench: from a brief's trials over cards and glasses to what the tasters' answers show.

Rooms: answers, returned, cards, declared.
May import: pipeline.
Read: stages, plugin.
"""
