"""Looks whether an inbox and its outputs can be worked with, says each thing in words and changes nothing.

May import: book, common, inbox, runs, site.
Read: all_checks, check, folders, installation, watching, evidence.
"""
