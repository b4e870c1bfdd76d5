"""Whether journal, originals, book and outputs still agree with each other and with heads kept elsewhere.

May import: book, common, contract.
Read: verify, said, of_journal, of_heads, of_originals, of_book, of_outputs, of_facts.
"""
