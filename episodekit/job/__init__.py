"""What did the creator plan? Markdown becomes a `Plan`, and every mistake a finding at its line.

In: the bytes of `job.md`. Out: a frozen `Plan` that keeps the source position of every value, and
findings. Never: a guess at what a mistyped value meant; a look at the log or the footage.
"""
