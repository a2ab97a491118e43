"""How does the picture fill the words?

In: a step's times, its shots, and the pieces of footage that its spans cover. Out: the parts that play,
to the frame, with their speeds, holds and slates. Never: an encoder.
"""
