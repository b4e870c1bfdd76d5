"""What tasted trials answer: comparisons, orders, likeness to a standard, faults and remedies, as data and page.

May import: cards, declared, pipeline.
Read: compare, remedy, faults, flights, match, ranking, next_card, analysis, answer, words, answer_stages, page,
answer_reports.
"""
