"""From lab readings to strengths and contents, how sure each is, and what is doubtful.

May import: alcoholometry, declared, pipeline.
Read: certificates, dips, content, obscuration, remarks, gauges, assumptions, resolve, judge, meters, spread, correct,
dip_checks, instrument_words, instrument_checks, instrument_report.
"""
