"""Addresses of the workshop itself: people, kilns, moulds, hours, rates."""

from django.urls import path

from workshop.views import (
    clock,
    copies,
    facts,
    health,
    people,
    phone_offline,
    phones,
    photos,
    practice,
    second_look,
    second_step,
    sign_in,
    week,
)

app_name = "workshop"


def register(word: str, name: str, listing, edit) -> list:
    """The three addresses of a plain thing: its list, a new one, one of them."""
    return [
        path(f"{word}/", listing.as_view(), name=f"{name}_list"),
        path(f"{word}/new/", edit, name=f"{name}_add"),
        path(f"{word}/<int:pk>/", edit, name=f"{name}_change"),
    ]


urlpatterns = [
    path("sign-in/", sign_in.sign_in, name="sign_in"),
    path("sign-out/", sign_in.sign_out, name="sign_out"),
    path("me/", people.own_page, name="own_page"),
    path("practise/", practice.practise, name="practise"),
    path("practise/in/<str:key>/", practice.practise_in, name="practise_in"),
    path("me/language/", people.choose_own_language, name="own_language"),
    path("me/session/", people.end_own_session, name="own_session_end"),
    path("me/second-step/", second_step.second_step, name="second_step"),
    path("me/second-step/begin/", second_step.begin, name="second_step_begin"),
    path("me/second-step/forget/", second_step.forget, name="second_step_forget"),
    path("photos/", photos.photo_phone, name="photo_phone"),
    path("photos/<int:pk>/", photos.photo, name="photo"),
    path("photos/<int:pk>/small/", photos.photo_small, name="photo_small"),
    path("photos/<int:pk>/change/", photos.photo_change, name="photo_change"),
    path("photos/<slug:pictured>/<int:pk>/", photos.photo_add, name="photo_add"),
    path("phones/", phones.phones, name="phones"),
    path("phones/open/", phones.let_in, name="phones_let_in"),
    path("phones/pair/", phones.pair_here, name="phone_pair"),
    path("phones/back/", phones.come_back, name="phone_back"),
    path("phones/worker.js", phone_offline.worker, name="phone_worker"),
    path("phones/manifest.json", phone_offline.manifest, name="phone_manifest"),
    path("phones/token/", phone_offline.token, name="phone_token"),
    path("phones/waiting/", phone_offline.waiting, name="phone_waiting"),
    path("phones/pin/", phones.choose_pin, name="phone_pin"),
    path("phones/<int:pk>/end/", phones.end, name="phone_end"),
    path("health/", health.health, name="health"),
    path("metrics/", health.metrics, name="metrics"),
    path("copies/", copies.copy_list, name="copy_list"),
    path("copies/<str:name>/", copies.copy_file, name="copy_file"),
    path("copies/<str:name>/check/", copies.copy_check, name="copy_check"),
    path("rooms/", facts.room_list, name="rooms"),
    path("safety/", facts.safety, name="safety"),
    path("", facts.facts, name="facts"),
    path("business/", facts.business, name="business"),
    *register("kilns", "kiln", facts.KilnList, facts.edit_kiln),
    *register("programmes", "programme", facts.ProgrammeList, facts.edit_programme),
    *register("moulds", "mould", facts.MouldList, facts.edit_mould),
    path("hours/week/", week.hours_week, name="hours_week"),
    path("rates/usual/", week.usual_rates, name="rate_usual"),
    *register("hours", "hours", facts.HoursList, facts.edit_hours),
    *register("closed-days", "closed_day", facts.ClosedDayList, facts.edit_closed_day),
    *register("rates", "rate", facts.LabourRateList, facts.edit_rate),
    *register("standing-costs", "standing_cost", facts.StandingCostList, facts.edit_standing_cost),
    *register("vat-rates", "tax_rate", facts.TaxRateList, facts.edit_tax_rate),
    path("paper-numbers/", facts.paper_numbers, name="series_list"),
    path("paper-numbers/<slug:kind>/", facts.number_pattern, name="series_change"),
    path("log/", facts.ActList.as_view(), name="act_list"),
    *register("people", "person", people.PersonList, people.edit_person),
    path("people/<int:pk>/invitation/", people.invite, name="person_invite"),
    path(
        "people/<int:pk>/second-step/forget/",
        second_step.forget_for,
        name="person_second_step_forget",
    ),
    path("day/", clock.clock, name="clock"),
    path("two/", second_look.second_look_list, name="second_look_list"),
    path("password/<uidb64>/<token>/", people.ChoosePassword.as_view(), name="choose_password"),
]
