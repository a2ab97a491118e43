"""What plays when? The draft timeline as values, in frames at one rate.

In: the fitted steps, the read, the chapters. Out: a `Timeline` of segments, overlays and markers that
an engine can render without asking anything more. Never: a file, a clock, an encoder.
"""
