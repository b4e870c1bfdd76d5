"""Verdicts in words: reasons with cask, date and limit, and the facts that were used.

May import: facts, rules.
Read: sentences, missing, plainly, summary.
"""
