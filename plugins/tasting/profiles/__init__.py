"""From single tastings to a sample's profile with intervals, apart from who tasted it.

May import: declared, pipeline, samples, words.
Read: additive, impressions, silence, sheet_findings, profiles, profile_stages.
"""
