"""The costing room: from an order's facts to glass, kiln, labour, cost and price, with the working.

Nothing here knows a database, a clock or a screen. Where a thing lives:

facts.py            what costing is told            results.py   what it answers
cost_order.py       the door: the whole chain       errors.py    how it refuses
checks.py           facts that cannot be            notices.py   what the owner should know
layout.py           beads along the cord            netting.py   what the shelf gives first
beads_to_start.py   enough come good                scatter.py   rejects that come load by load
cord.py             how often a pattern fits        strand.py    a design laid out, opened
                                                    figure by figure in strand_figures.py
bead_unit.py        one bead: mass, rejects         kiln_choice.py, firing.py   its firings
making.py           beads of a kind for an order    line.py      what a line takes
glass.py            glass by colour                 work.py, labour.py   minutes and pay
pricing.py          from cost to price              what_if.py   the same order, changed
figures.py          numbers that know their rule    operations.py   what a rule may do
numbers.py          constants and rounding          working/     the figures as one tree

To add a cost: state its rule at the head of the module it belongs to, work the figure out by it,
and give it a field in results.py. What follows from it shows it in the tree; the tests of the tree
then hold every figure to its parts.
"""
