"""May the finished draft be shown? It is looked at again: for flashes after a speed-up, for what is private.

In: what was rendered. Out: findings, and the highest speed that does not flash. Never: a change to the draft.
"""
