"""Which claims are judged for which market, the verdict on each, and what a batch may, must and could say.

May import: facts, pipeline, rules, telling.
Read: earliest, verdict, judge, before_pouring, grounds, label_rows, statements, designations,
shares_before_pouring.
"""
