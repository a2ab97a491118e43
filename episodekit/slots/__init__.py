"""Where does the sponsor's read play?

In: the fitted steps in screen order, in the parts between which they may be interrupted, and the deal. Out: a
place for each read and ad break, why that one, and findings. Never: a read inside a hazard, a payoff or a beat.
"""
