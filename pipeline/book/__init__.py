"""What was taken: originals with their journal, facts and which of them count, rulings, the way back to a cell.

May import: common, contract, sheets, site, tables.
Read: entering, changes, journal, chain, place, fates, blocks, packed, schema, book, published, ledger, facts,
restated, disputed, fact_words, sources, versions, signatures, taking, rulings_taken, releasing, rulings,
releases.
"""
