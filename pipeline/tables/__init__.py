"""From a file's bytes to tables of cells: text files and workbooks of three kinds, within bounds, with what they hide.

May import: common.
Read: tables, readers, workbook_parts, hidden_parts, old_workbooks, open_workbooks.
"""
