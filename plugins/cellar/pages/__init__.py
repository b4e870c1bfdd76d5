"""The cellar's pages, workbooks and pictures.

May import: casks, declared, lots, pipeline, plugins.proof.
Read: words, drawing, charts, casks_beside, cask_course, history, overview, account_views, workbooks, recount,
day_sheet, reports, lot_pages.
"""
