"""Which one figure, corrected, would close an account that is open: slips that people make, each tried.

May import: common, components, declared, pipeline, plugins.proof, reconciling, vat.
Read: digits, evidence, figures_named, single_slips, lines, misread_names, near_names, fitted, pairs, figures.
"""
