"""The door that gunicorn knocks on."""

import os

from django.core.wsgi import get_wsgi_application
from django.urls import get_resolver

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")
application = get_wsgi_application()
# Every page's code is read now rather than at a worker's first request, where somebody waits.
_ = get_resolver().url_patterns
