"""Who makes the pieces of a draft, and what need not be made again?

In: pieces. Out: cache entries, made side by side, here or on a cluster, and why each is new (`recut.py`). Never: a
decision about what to show.
"""
