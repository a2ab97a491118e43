"""Which views are to be filmed, in which order?

In: steps with their times. Out: shots in screen order, and the order to film them in. Never: a clip;
whether a shot has been filmed is for `fit/` to find out.
"""
