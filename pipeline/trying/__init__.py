"""Stages and plugins tried outside a house: inputs made by hand, one stage called as a run does, a small whole run.

May import: common, contract, kept, runs, site, stages.
Read: calls, made, tried_house, new_plugin, promises, try_plugin.
"""
