"""From the book's facts to frames and findings: every stage with what it needs, again only where something changed.

May import: book, common, contract, site.
Read: work, graph_run, memory, rowwise, issuing.
"""
