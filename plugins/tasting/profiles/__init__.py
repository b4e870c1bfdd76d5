"""From single tastings to a sample's profile with intervals, apart from who tasted it.

May import: declared, pipeline, plugins.proof, words.
Read: additive, names, impressions, resolve, sheet_findings, profiles, profile_stages.
"""
