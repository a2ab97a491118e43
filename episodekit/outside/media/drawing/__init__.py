"""What do cards, titles and cautions look like? Words and boxes become pictures, with Pillow.

In: a card or an overlay and the draft's size. Out: pictures, and whether their letters can be read on a phone.
Never: footage.
"""
