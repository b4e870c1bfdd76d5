"""The record and the open findings as workbooks.

May import: pipeline, record.
Read: cells, account_sheet, bottling_sheet, reconciled_sheet, review_book, record_book.
"""
