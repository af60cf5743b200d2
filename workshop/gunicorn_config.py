"""How gunicorn serves the workshop on a server; read by `--config python:workshop.gunicorn_config`.

What an operator changes (where to listen, how many workers) is given on gunicorn's command line.
"""

from workshop.metrics_folder import forget_counts, share_counts
from workshop.patient_server import SERVING

globals().update(SERVING)
bind, workers, threads = "127.0.0.1:8000", 3, 4
share_counts()


def on_exit(server):
    forget_counts()
