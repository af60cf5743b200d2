"""Read by gunicorn itself when it is started in this folder."""

from workshop.metrics_folder import forget_counts, share_counts

share_counts()


def on_exit(server):
    forget_counts()
