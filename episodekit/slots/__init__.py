"""Where does the sponsor's read play?

In: the steps with their lengths, in screen order, and the reads as contracted. Out: a start for each
read at a boundary between steps, why that one, and findings. Never: a read inside a step.
"""
