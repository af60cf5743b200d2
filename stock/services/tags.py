"""The tag of a strand: its address, and whether anybody may open it."""

from django.db import transaction

from stock.models import GlassColour, Posting, StrandTag
from workshop.models import Person
from workshop.services.acts import record_act


@transaction.atomic
def tag_of(posting: Posting) -> StrandTag:
    """The tag of the strands strung in a posting, made when first asked for."""
    tag, _made = StrandTag.objects.get_or_create(posting=posting)
    return tag


@transaction.atomic
def publish_tag(tag: StrandTag, published: bool, *, person: Person) -> StrandTag:
    """Open the tag's page to everybody who has its address, or close it again."""
    StrandTag.objects.filter(pk=tag.pk).update(published=published)
    record_act(
        person,
        "publish tag",
        tag,
        before={"published": tag.published},
        after={"published": published},
    )
    tag.published = published
    return tag


@transaction.atomic
def accept_reorder_point(colour: GlassColour, grams: int, *, person: Person) -> GlassColour:
    """Take the suggested mark below which more glass is collected."""
    before = colour.reorder_g
    colour.reorder_g = grams
    colour.save(update_fields=["reorder_g"])
    record_act(
        person, "accept mark", colour, before={"reorder_g": before}, after={"reorder_g": grams}
    )
    return colour
