"""What every room needs and none owns: errors in words, files and their locks, keys, folded names, logs.

May import: nothing.
Read: errors, opening, files, file_names, accounts, disks, lock, keys, logs, names, heads, codes, libraries, sums,
collector, closed, site_commands, guarding.
"""
