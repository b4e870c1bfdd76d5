"""What was tasted: codes resolved, samples traced to what they were drawn from, names as keys are compared.

May import: declared, pipeline, plugins.proof.
Read: names, resolve.
"""
