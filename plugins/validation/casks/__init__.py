"""Every inventory row held against itself and against earlier exports.

May import: declared, pipeline, readings.
Read: refills, wood, cask_checks.
"""
