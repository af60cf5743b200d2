"""`manage.py bring_back`: the older name of `restore`."""

from workshop.management.commands.restore import Command

__all__ = ["Command"]
