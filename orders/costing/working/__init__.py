"""The working: a tree that opens every figure of a costing down to the facts it came from.

tree.py        the door: `order_tree`         terms.py    one figure, its JSON, worked again
operations.py  how a figure follows           base.py     small makers of terms
The other modules follow the rooms of the costing: strand, beads, glass, firing, labour, money,
prices.
"""
