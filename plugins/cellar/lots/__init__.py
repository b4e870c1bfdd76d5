"""Lots and recall: every way that spirit took, walked from a lot to casks and to every other lot, and back.

May import: accounts, casks, declared, pipeline, plugins.proof.
Read: holders, passages, lot_stage, walk, traced, trace_command.
"""
