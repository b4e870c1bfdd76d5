"""Issued sets of proposals: written once, read back, scaled to pour, shown as page and workbook.

May import: choosing, declared, pipeline, plugins.proof, stock, taste.
Read: document, issued_sets, lineage, page, pour, read_sets, books.
"""
