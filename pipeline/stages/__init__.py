"""From the book's facts to frames and findings: every stage with what it needs, again only where something changed.

May import: book, common, contract, kept, site.
Read: work, inputs, graph_run, splitting, issuing, findings_by_subject.
"""
