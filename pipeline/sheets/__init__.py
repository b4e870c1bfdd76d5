"""From a file's bytes to typed rows: tables, headers, units, dates, numbers, cells, natural keys.

Knows nothing of inbox or book: bytes come in, rows and findings come out.

May import: common, contract.
Read: readers, workbook_parts, hidden_parts, recognise, unseen, headers, layouts, units, dates, numbers, blanks, cells,
set_aside, beside, keys, rows, rulings_sheet, columns_sheet, to_mend, judged.
"""
