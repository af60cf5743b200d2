"""Tidewrack Beads of Sant Orrel: an invented workshop to try things out in."""
