"""The cellar: casks over time, the stock against the book, month accounts, and pages of all that.

Rooms: pages, lots, accounts, stock, rates, casks, declared.
May import: pipeline.
Read: plugin.
"""
