"""What files are written with: frames as plain data, cells and texts that no spreadsheet program runs.

May import: common.
Read: plain, pages, bytecode, spoken, workbooks, framing.
"""
