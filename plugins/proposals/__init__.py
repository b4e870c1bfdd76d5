"""Proposals: from a brief and the stock to blends that can be poured, issued once, and back from what was poured.

Rooms: briefs, sets, choosing, taste, stock, declared.
May import: pipeline.
Read: reports, swap_command, propose_command, ask_commands, stages, plugin.
"""
