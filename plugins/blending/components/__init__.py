"""Each line of a blend sheet: what it is, how much was drawn, which strength counts, and what is doubtful.

May import: common, declared, pipeline, plugins.proof.
Read: draw_findings, fillings, drawn, shared_errors, known_names, gauges, draws, strengths, components,
likely_strengths.
"""
