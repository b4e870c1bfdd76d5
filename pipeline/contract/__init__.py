"""What a plugin declares, and what it is given: frames, kinds of sheet, stages, reports, settings, findings.

Nothing here works anything out. ``hooks`` is the whole list of what can be added.

May import: common.
Read: kinds, frames, findings, stages, settings, signatures, site, units, commands, hooks.
"""
