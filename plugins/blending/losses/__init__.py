"""What went missing at each step, and which losses and gains want a person.

May import: common, declared, pipeline, reconciling, vat.
Read: loss_findings, losses.
"""
