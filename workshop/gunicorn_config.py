"""What gunicorn does at its start and stop; read by `--config python:workshop.gunicorn_config`."""

from workshop.metrics_folder import forget_counts, share_counts

share_counts()


def on_exit(server):
    forget_counts()
