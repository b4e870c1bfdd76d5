"""Density, strength, mixing and the official tables: pure functions of arrays, with NumPy alone.

May import: pipeline.
Read: oiml_r22, formula, air, inverse, mixing, rounding, strength, amounts, instruments, reduction, official,
uncertainty, agreeing.
"""
