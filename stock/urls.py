"""Addresses of the stock room."""

from django.urls import URLPattern, path

from stock.views import (
    agreeing,
    batches,
    beads,
    book,
    collectors,
    counts,
    flow,
    glass,
    marks,
    minutes,
    moulds,
    moving,
    preparations,
    sacks,
    samples,
    strands,
    trails,
)

app_name = "stock"

glass_urls = [
    path("glass/", glass.glass, name="glass"),
    path("glass/sort/", sacks.sort, name="sack_sort"),
    path("glass/agree/", agreeing.agree, name="glass_agree"),
    path("glass/tests/new/", agreeing.write, name="glass_test_add"),
    path("colours/", glass.ColourList.as_view(), name="colour_list"),
    path("colours/usual/", glass.usual_colours, name="colour_usual"),
    path("colours/new/", glass.edit_colour, name="colour_add"),
    path("colours/<int:pk>/", glass.edit_colour, name="colour_change"),
    path("sacks/", sacks.SackList.as_view(), name="sack_list"),
    path("sacks/log/", sacks.log, name="sack_log"),
    path("sacks/price/", sacks.price, name="sack_price"),
    path("sacks/<int:pk>/", sacks.detail, name="sack"),
    path("sacks/<int:pk>/clear/", sacks.clear, name="sack_clear"),
    path("collectors/", collectors.CollectorList.as_view(), name="collector_list"),
    path("collectors/new/", collectors.edit, name="collector_add"),
    path("collectors/prices/", collectors.PriceList.as_view(), name="collector_price_list"),
    path("collectors/prices/new/", collectors.edit_price, name="collector_price_add"),
    path("collectors/prices/<int:pk>/", collectors.edit_price, name="collector_price_change"),
    path("collectors/<int:pk>/", collectors.account, name="collector"),
    path("collectors/<int:pk>/change/", collectors.edit, name="collector_change"),
    path("collectors/<int:pk>/pay/", collectors.pay, name="collector_pay"),
    path("collectors/slips/<int:pk>/", collectors.slip, name="collector_slip"),
    path("preparations/", preparations.PreparationList.as_view(), name="preparation_list"),
    path("preparations/log/", preparations.log, name="preparation_log"),
    path("preparations/<int:pk>/", preparations.detail, name="preparation"),
]

bead_urls = [
    path("beads/", beads.room, name="beads"),
    path("beads/new/", beads.edit, name="bead_add"),
    path("samples/<int:pk>/", samples.sample, name="sample"),
    path("beads/<int:pk>/", beads.detail, name="bead"),
    path("beads/<int:pk>/paints/", beads.paints, name="bead_paints"),
    path("beads/<int:pk>/change/", beads.edit, name="bead_change"),
    path("moulds/<int:pk>/", moulds.detail, name="mould"),
    path("moulds/gone/<int:pk>/back/", moulds.back, name="mould_back"),
    path("beads/factors/", minutes.FactorList.as_view(), name="factor_list"),
    path("beads/factors/new/", minutes.edit_factor, name="factor_add"),
    path("beads/factors/<int:pk>/", minutes.edit_factor, name="factor_change"),
    path("beads/minutes/", minutes.BeadMinutesList.as_view(), name="bead_minutes_list"),
    path("beads/minutes/new/", minutes.edit_minutes, name="bead_minutes_add"),
    path("beads/minutes/<int:pk>/", minutes.edit_minutes, name="bead_minutes_change"),
    path("batches/", batches.BatchList.as_view(), name="batch_list"),
    path("batches/weigh/", batches.weigh_out, name="batch_weigh"),
    path("batches/mould/", batches.mould, name="batch_mould"),
    path("batches/<int:pk>/", batches.detail, name="batch"),
    path("batches/<int:pk>/paint/", batches.paint, name="batch_paint"),
    path("batches/<int:pk>/finish/", batches.finish, name="batch_finish"),
]

book_urls = [
    path("book/", book.PostingList.as_view(), name="posting_list"),
    path("book/<int:pk>/", book.detail, name="posting"),
    path("book/<int:pk>/back/", book.take_back, name="posting_back"),
    path("glass/before/", moving.opening, name="glass_opening"),
    path("move/<int:pk>/", moving.move, name="stock_move"),
    path("places/", book.PlaceList.as_view(), name="place_list"),
    path("places/new/", book.edit_place, name="place_add"),
    path("places/<int:pk>/", book.edit_place, name="place_change"),
]

count_urls = [
    path("counts/", counts.count_list, name="count_list"),
    path("counts/weight/", counts.by_weight, name="count_by_weight"),
    path("counts/<int:pk>/", counts.count, name="count"),
    path("glass/flow/", flow.flow, name="flow"),
    path("glass/value/", flow.value, name="value"),
    path("glass/marks/", marks.marks, name="glass_marks"),
    path("glass/marks/<int:pk>/", marks.accept, name="glass_mark_accept"),
]

trail_urls = [
    path("strands/", strands.strand_list, name="strand_list"),
    path("strands/<int:pk>/apart/", strands.apart, name="strand_apart"),
    path("trail/strands/<int:pk>/", trails.strand, name="trail_strand"),
    path("strands/by-code/", strands.by_code, name="strand_code"),
    path("trail/strands/<int:pk>/tag/", trails.tag, name="strand_tag"),
    path("trail/sacks/<int:pk>/", trails.sack, name="trail_sack"),
    path("from/<str:token>/", trails.public, name="strand_story"),
]

urlpatterns: list[URLPattern] = [
    *glass_urls,
    *bead_urls,
    *book_urls,
    *count_urls,
    *trail_urls,
]
