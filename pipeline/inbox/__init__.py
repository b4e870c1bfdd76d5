"""One file from the inbox into the book, or back: noticing it, waiting until it is whole, claiming, reading, judging.

May import: book, common, contract, sheets, site, tables, writing.
Read: folder, pair, noticing, wakeup, complete, open_files, intake, daily, at_once, attempts, attachments,
bounded_reader, judging, mended_workbook.
"""
