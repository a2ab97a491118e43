"""What goes out with the episode? The deal's deadlines, the description, what a sponsor is shown.

In: the plan, and what was compiled or measured. Out: days, texts and terms as values, and findings. Never: a clock,
a promise that was not checked, or legal advice: local law and the signed contract decide.
"""
