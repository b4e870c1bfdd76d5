"""Month accounts: what happened to spirit as postings, and lines that close to the tenth.

May import: casks, declared, pipeline, plugins.proof, rates.
Read: ledger, postings, postings_vats, postings_goods, account_stage.
"""
