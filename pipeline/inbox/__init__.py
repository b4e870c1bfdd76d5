"""One file from the inbox into the book, or back: noticing it, waiting until it is whole, claiming, reading, judging.

May import: book, common, contract, sheets, site.
Read: folder, noticing, wakeup, complete, open_files, intake, attempts, bounded_reader, judging.
"""
