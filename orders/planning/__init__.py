"""Kiln-load planning: pure numbers in, pure numbers out.

Start at `instance` (what is to be fired, where and when), then `replan` (a whole new plan),
`promise` (the earliest honest date for one more order), `bounds` (what no plan can beat) and
`doubt` (dates when days are lost and beads are rejected). Nothing here reads the clock unless
it was given seconds to spend, and nothing here knows of a database.
"""
