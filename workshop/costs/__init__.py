"""What making costs: minutes, kilns, sorting and the account of a month, as plain arithmetic.

Amounts stay exact (28 digits) until a charge or a movement is written, which rounds once, half-up,
to six decimals.
"""
