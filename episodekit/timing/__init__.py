"""How long does it take to say? Words become milliseconds.

In: the text of a beat and the voice. Out: its spoken length, as one number behind one function,
`speech.spoken_length`. Never: a look at the picture; that is `fit/`.
"""
