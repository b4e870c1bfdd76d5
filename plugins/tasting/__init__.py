"""Tasting: notes and scores become words, profiles, agreement of tasters and likeness of casks.

Rooms: pages, stock, panel, blind, profiles, words, samples, declared.
May import: pipeline.
Read: stages, plugin.
"""
