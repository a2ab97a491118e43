"""Where does a viewer jump to?

In: everything in screen order with its start on the timeline. Out: chapter marks that keep the host's rules
and are spread best, and what was left out to keep them. Never: a marker that splits a payoff.
"""
