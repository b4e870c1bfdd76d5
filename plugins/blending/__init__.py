"""Blending: what went into each batch, what its vat holds, whether both agree, and which slip would explain it if not.

Rooms: slips, losses, reconciling, vat, components, declared, common.
May import: pipeline.
Read: plugin.
"""
