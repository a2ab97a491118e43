"""What can be seen and heard in a finished video, ours or the creator's own export? For the proof of a deal.

In: a video file. Out: when each board is on screen, how large its letters are, where takes are heard. Never: what
the plan says of it.
"""
