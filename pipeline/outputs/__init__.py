"""From frames and findings to files: documents and reports, each replaced alone; earlier versions; blank sheets.

May import: book, common, contract, kept, sheets, site, stages, writing.
Read: publish, run_info, read_back, making, due, replacing, framed, earlier_versions, standings, released, issued,
door_list, blank_sheet, blank_workbook, blank_file, attachments.
"""
