"""Print every act the workshop knows, room by room."""

from django.core.management.base import BaseCommand

from workshop.service_list import services


class Command(BaseCommand):
    help = "Print every service of every room with the line that says what it does."
    requires_system_checks: list[str] = []

    def handle(self, *args, **options) -> None:
        module = ""
        for each in services():
            if each.module != module:
                module = each.module
                self.stdout.write(f"\n{module}")
            self.stdout.write(f"  {each.name}: {each.about}")
