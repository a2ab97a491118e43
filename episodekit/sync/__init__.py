"""When did each clip roll? Evidence of many kinds becomes one place on the log's clock, and how sure it is.

In: clips, and clues (a place in a clip that is a known instant of the log's clock). Out: per clip its start, pace,
uncertainty and the rung they rest on, and findings where clues contradict each other; which steps no clip shows, and
which clips no step uses. Never: a look into a file, or a guess: what nothing tells well enough is not placed, save
in a job where nothing at all was measured.
"""
