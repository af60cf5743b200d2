"""The costing room: from an order's facts to glass, kiln, labour, cost and price, with the working.

``cost_order(facts)`` is the door. Nothing here knows a database, a clock or a screen.
"""
