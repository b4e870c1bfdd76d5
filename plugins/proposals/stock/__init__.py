"""What can be drawn of each cask today, and why not.

May import: declared, pipeline, plugins.proof.
Read: amounts, stock, recipes, find, stock_stage.
"""
