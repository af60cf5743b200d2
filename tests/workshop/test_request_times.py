"""Answers are timed, and an answer never waits for its being counted."""

import pytest

from workshop import request_times


@pytest.mark.django_db
def test_a_folder_of_counts_that_was_swept_away_keeps_nobody_from_an_answer(client, monkeypatch):
    def gone(*labels):
        raise FileNotFoundError("the folder is gone")

    monkeypatch.setattr(request_times.TIMES, "labels", gone)
    assert client.get("/workshop/sign-in/").status_code == 200
