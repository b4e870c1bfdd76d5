"""The stock: tables of what lies in wood, the inventory held against the book, from bottle to cask and back.

May import: casks, declared, pipeline, rates.
Read: lineage, stock_findings, stock_tables, stock_checks.
"""
