"""Where does a viewer jump to?

In: the sections with their starts on the timeline. Out: chapter marks that keep the host's rules, and
what was merged to keep them. Never: a title of its own making.
"""
