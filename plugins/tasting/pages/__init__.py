"""The pages, tables and data files of tasting.

May import: declared, panel, pipeline, stock.
Read: shown, drawing, json_bytes, cask_sheet, session_sheet, overviews, reports.
"""
