"""What was taken: originals with their journal, facts and which of them count, rulings, the way back to a cell.

May import: common, contract, sheets, site.
Read: entering, journal, fates, blocks, packed, book, published, ledger, facts, sources, rulings_taken, rulings,
signatures.
"""
