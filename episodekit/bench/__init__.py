"""What happened when, at the bench?

In: marks of the bench log on known clocks. Out: spans of work, keep and wait for each step, and findings.
Never: a clip; a span becomes footage in `footage/`.
"""
