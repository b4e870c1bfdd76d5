"""From a table of cells to typed rows: headers, units, dates, numbers, cells, natural keys.

Knows nothing of inbox or book: bytes come in, rows and findings come out.

May import: common, contract, tables.
Read: layouts, grids, stacked, recognise, titles, found, explained, unseen, headers, units, dates, numbers, blanks,
cells, differences, set_aside, beside, keys, rows, rulings_sheet, columns_sheet, to_mend, judged.
"""
