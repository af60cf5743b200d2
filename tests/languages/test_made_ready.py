"""Words are made ready once, anew when a message file changes, and never keep the workshop shut."""

import gettext

import pytest

from workshop import languages, message_files

HEAD = message_files._HEADER.format(language="fr", plurals="nplurals=2; plural=(n > 1);")


@pytest.fixture
def project(tmp_path, monkeypatch):
    """A project of two apps whose message files can be written."""
    monkeypatch.setattr(languages, "ROOT", tmp_path)
    monkeypatch.setattr(languages, "APPS", ("workshop", "stock"))

    def write(app: str, text: str) -> None:
        path = languages.message_file(app, "fr")
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(HEAD + text, encoding="utf-8")

    return write


def said(folder, text: str) -> str:
    gettext._translations.clear()  # type: ignore[attr-defined]  # another process begins without
    return gettext.translation("django", folder, languages=["fr"]).gettext(text)


def test_words_of_all_apps_are_made_once_and_anew_when_they_change(project, tmp_path):
    project("workshop", 'msgid "kiln"\nmsgstr "four"\n')
    project("stock", 'msgid "bead"\nmsgstr "perle"\n\n#, fuzzy\nmsgid "cord"\nmsgstr "corps"\n')
    made = tmp_path / "made"
    assert languages.make_ready(made) == ["fr"]
    assert (said(made, "kiln"), said(made, "bead")) == ("four", "perle")
    assert said(made, "cord") == "cord", "what is doubtful is not said"
    assert languages.make_ready(made) == []
    project("workshop", 'msgid "kiln"\nmsgstr "le four"\n')
    assert languages.make_ready(made) == ["fr"]
    assert said(made, "kiln") == "le four"


def test_a_disk_that_takes_nothing_does_not_keep_the_workshop_shut(project, tmp_path, monkeypatch):
    project("workshop", 'msgid "kiln"\nmsgstr "four"\n')
    made = tmp_path / "made"
    languages.make_ready(made)
    project("workshop", 'msgid "kiln"\nmsgstr "le four"\n')

    def full(*_args):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(languages, "_write", full)
    assert languages.make_ready(made) == []
    assert said(made, "kiln") == "four", "what was made before serves"
