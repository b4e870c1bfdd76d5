"""From frames to the facts that rules speak of: where spirit lay, how long, in what wood, made of what.

May import: pipeline, plugins.proof.
Read: ages, logic, catalogue, wood, words, places, mash, previous, ageing, contradictions, tables, additions, retold,
lineage, cells, fill, spirit, oak, batch, lines, stays, all_facts.
"""
