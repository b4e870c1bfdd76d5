"""The label proof: the words on a label held against the sheets, and against what rules demand and allow.

May import: facts, judging, pipeline, rules, wording.
Read: labels, as_labelled, result, sheets, allowed, demanded, told.
"""
