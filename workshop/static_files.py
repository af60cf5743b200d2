"""What a server gathers of the static files that pages and packages bring."""

from django.contrib.staticfiles.apps import StaticFilesConfig


class StaticFiles(StaticFilesConfig):
    """Gathers for a server what a page names, and nothing else of what the packages bring.

    Each file is packed twice as small as it gets, and that takes longer than all else at a start.
    """

    ignore_patterns = [
        *StaticFilesConfig.ignore_patterns,
        *("*.ttf", "*It.otf", "*-Black.otf", "*-ExtraLight.otf"),  # cuts nobody reads in
        *("htmx-4*", "htmax*", "htmx-2.js", "ext"),  # htmx-2.min.js and its helper are left
        *("django_tables2", "paleblue", "bootstrap.css", "django_otp", "otp_totp"),
    ]
