"""Ages and label claims: what the sheets say of a spirit, judged by rules of law that are kept as data.

Rooms: comparing, judging, telling, rules, wording, facts, declared.
May import: pipeline.
Read: parts, stages, plugin.
"""
