"""What every room needs and none owns: errors in words, files and their locks, folded names, logs.

May import: nothing.
Read: errors, files, file_names, disks, lock, logs, names, heads, codes, libraries, sums, collector, closed.
"""
