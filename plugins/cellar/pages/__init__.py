"""The cellar's pages, workbooks and pictures.

May import: casks, declared, pipeline, plugins.proof.
Read: account_views, cellar_book, charts, drawing, workbooks, views, recount, reports.
"""
