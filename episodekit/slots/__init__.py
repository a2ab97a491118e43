"""Where do reads and ad breaks play, and are the deal's words kept?

In: the fitted story in units that are not interrupted, the reads' texts, the plan's deals. Out: everything in
screen order, where each read and ad break stands and why, and findings. Never: inside a hazard, a payoff or a
point of no return; and never a guess: the placement is the best there is, or the terms that forbid one are named.
"""
