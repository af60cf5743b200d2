"""The working: a tree that opens every figure of a costing down to the facts it came from.

tree.py    the door: `order_tree`, which gives the figures their headings
terms.py   one figure as it is shown and kept: its JSON, and how it is worked again
"""
