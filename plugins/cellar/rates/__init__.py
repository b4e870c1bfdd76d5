"""How fast casks lose volume and change strength, what the casks around tell, and what is to come.

May import: casks, declared, pipeline, plugins.proof.
Read: pooled, slopes, rates, curves, neighbours, rate_stage, forecasts.
"""
