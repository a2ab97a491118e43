"""The drawn bench of the sample job: painted, animated and made heard by data.

In: the story (`story.py`), told in cues about props. Out: frames for any camera, samples for any microphone, and
the marks of the bench log. All three come from the same rows. It reads no clock and no randomness but fixed seeds.
"""
