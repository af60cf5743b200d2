"""The guide: help of every page that somebody may open, with the words of the trade, to print."""

from types import SimpleNamespace

from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from orders.papers.live import base_context
from workshop.doors import open_to
from workshop.help import CHAPTERS, MEANINGS, WORDS, Chapter, Help
from workshop.models import Business, Role


def guide_html(role: str, business: Business) -> str:
    """The guide for one role, or of the bookkeeper's chapter, in the language being spoken."""
    chapters = chapters_for(role)
    terms = {term for chapter in chapters for each in chapter.helps for term in each.terms}
    words = sorted((WORDS[term] for term in terms), key=lambda each: str(each.word).casefold())
    context = base_context(
        business, _("Guide"), role=_name(role), chapters=chapters, words=words,
        meanings=MEANINGS,
    )  # fmt: skip
    return render_to_string("print/guide.html", context)


def chapters_for(role: str) -> list[Chapter]:
    """What somebody of this role may open, chapter by chapter; a chapter's key is that alone."""
    if role not in Role.values:
        return [chapter for chapter in CHAPTERS if chapter.key == role]
    reader = SimpleNamespace(is_authenticated=True, role=role)

    def may(each: Help) -> bool:
        return any(open_to(reader, page) for page in each.pages)

    kept = (
        Chapter(chapter.key, chapter.title, tuple(filter(may, chapter.helps)))
        for chapter in CHAPTERS
    )
    return [chapter for chapter in kept if chapter.helps]


def _name(role: str) -> str:
    if role in Role.values:
        return str(Role(role).label)
    return ", ".join(str(chapter.title) for chapter in chapters_for(role))
