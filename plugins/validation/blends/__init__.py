"""Blend sheets and bottlings held against plan, count and brief.

May import: declared, pipeline.
Read: bottling_rows, blend_checks.
"""
