"""The costing room: from an order's facts to glass, kiln, labour, cost and price, with the working.

Nothing here knows a database, a clock or a screen. Where a thing lives:

facts.py            what costing is told            results.py   what it answers
cost_order.py       the door: the whole chain       errors.py    how it refuses
checks.py           facts that cannot be            notices.py   what the owner should know
layout.py           beads along the cord            netting.py   what the shelf gives first
beads_to_start.py   enough come good                scatter.py   rejects that come load by load
bead_unit.py        one bead: mass, glass, firings  kiln_choice.py, firing.py, fuel.py
glass.py            glass by colour                 work.py, labour.py   minutes and pay
pricing.py          from cost to price              what_if.py   the same order, changed
numbers.py          constants and rounding          strand.py    a design laid out
working/            the tree that opens every figure: terms.py, operations.py, tree.py
learned.py, spread.py                               what records teach
inventory_cost.py   cost of what is held            invoice_totals.py   EN 16931

To add a cost: give it a field in results.py, work it out in cost_order.py, show its working in
working/money.py; the tests of the tree then hold it to its children.
"""
