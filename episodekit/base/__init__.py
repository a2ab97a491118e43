"""What every other room stands on: exact time, rates and timecode, source positions, findings.

In: nothing. Out: values. Never: anything about plans, clips or drafts.
"""
