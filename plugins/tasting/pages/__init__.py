"""The pages, tables and data files of tasting.

May import: declared, panel, pipeline, stock.
Read: drawing, json_bytes, tasting_book, views, reports.
"""
