"""`manage.py keep_copy`: the older name of `backup`, which timers may still call."""

from workshop.management.commands.backup import Command

__all__ = ["Command"]
