"""Does a moving picture flash too often? Frames made small are counted as WCAG 2.3.1 says.

In: small frames. Out: what flashes, when, over which share of the picture. Never: where the frames come from.
"""
