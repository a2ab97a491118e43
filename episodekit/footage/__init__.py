"""Which clip, which camera, which clock?

In: what was read from the camera files, and the plan's cameras. Out: clips on the wall clock, and the
stretches of them that a span of time covers. Never: a decoder; files are read in `outside/media`.
"""
