"""The temperature curve of a firing, kept with its load, drawn and judged over its whole length."""

from decimal import Decimal as D
from itertools import pairwise

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from scipy.integrate import quad

from orders.firing.forms.curves import MOST_BYTES, MOST_READINGS, read_curve, text_of_file
from orders.firing.queries.load_curve import curve_of, held_min
from orders.firing.queries.trays import trays_of
from orders.firing.services.curves import write_curve
from orders.models import FiringCurve
from stock.models import KilnLoad, LoadTray
from tests.builders import make_bead, make_person
from tests.orders.learning.conftest import make_batch, make_load, make_tray
from workshop.models import AuditEntry

SLOW = "0, 20\n70, 720\n100, 720\n160, 560\n200, 500\n260, 100"
# Falls 160 °C over an hour, then 60 over 1 minute right through the range.
SUDDEN = "0, 20\n70, 720\n100, 720\n160, 560\n161, 500\n260, 100"


@pytest.fixture
def load(workshop) -> KilnLoad:
    row = make_load(workshop["kiln"], hold_c=720, hold_min=30)
    make_tray(row, make_batch(workshop["bead"], 100, 92), 100, 8)
    return row


def told(load: KilnLoad):
    return curve_of(load, trays_of(load))


def url(load: KilnLoad) -> str:
    return reverse("orders:load_curve", args=[load.number])


def test_readings_pasted_are_kept_and_shown_on_the_load_s_page(client, workshop, load):
    client.force_login(workshop["keeper"])
    sent = client.post(url(load), {"degrees": "C", "readings": SLOW})
    assert sent.status_code == 302
    assert FiringCurve.objects.get(load=load).points[1] == (70, 720)
    assert AuditEntry.objects.get(act="write firing curve").after == {"readings": 6}
    page = client.get(reverse("orders:load", args=[load.number])).content.decode()
    for words in ("<svg", "cool slowly", "Did it fuse?", "Was it cooled slowly enough?", "logged"):
        assert words in page, words


def test_it_is_fused_by_the_whole_curve_as_quadrature_has_it(workshop, load):
    write_curve(load, read_curve(SLOW), person=workshop["keeper"])
    (fused,) = [each for each in told(load).counsels if each.question.startswith("Did it fuse?")]
    points = read_curve(SLOW)
    grain = float(workshop["bead"].grain_mm)

    def fluidity(minute: float) -> float:
        for (start, hot), (end, cold) in pairwise(points):
            if start <= minute <= end:
                heat_c = hot + (cold - hot) * (minute - start) / (end - start)
                # container glass, Seward & Vascott 2005; nothing flows below T0
                return 10 ** (2.309 - 3922 / (heat_c - 291)) if heat_c > 292 else 0.0
        return 0.0

    breaks = [minute for minute, _heat in points]
    theta = 0.3 * 60 / (grain / 2000) * quad(fluidity, 0, 260, points=breaks, limit=400)[0]
    assert float(fused.figure) == pytest.approx(theta, abs=0.006)


@pytest.mark.parametrize(
    ("text", "word", "rate"), [(SLOW, "slow enough", 2.7), (SUDDEN, "too fast", 60)]
)
def test_cooling_is_judged_by_its_steepest_stretch_and_not_its_mean(
    workshop, load, text, word, rate
):
    # a sphere of 10 mm stands 2 MPa × 0.79 × 15 × 4e-7 ÷ (72e9 × 9e-6 × 0.005²) = 35.1 °C/min;
    # from 565 to 514 °C both fall on average by less: 160 → 164 min
    write_curve(load, read_curve(text), person=workshop["keeper"])
    found = told(load)
    assert found.steepest_c_per_min == pytest.approx(rate, abs=0.05)
    assert found.counsels[-1].word == word


def test_a_load_opened_while_it_was_read_off_hot_is_not_called_fine(workshop, load):
    write_curve(load, read_curve("0, 20\n70, 720\n100, 720"), person=workshop["keeper"])
    assert told(load).counsels[-1].word == "not known"
    assert "Read on until it is below" in told(load).counsels[-1].sentence


def test_the_thickest_bead_of_the_load_decides(workshop, load):
    thick = make_bead("Fist", diameter_mm=D(40), bore_mm=D(4))
    LoadTray.objects.create(load=load, bead=thick, moulds=1, beads=3)
    write_curve(load, read_curve(SLOW), person=workshop["keeper"])
    assert told(load).counsels[-1].word == "too fast"  # 2.2 °C/min for 40 mm


def test_minutes_near_the_hottest():
    assert held_min([(0, 20), (70, 720), (100, 720), (110, 620)], 720) == 30
    assert held_min([(0, 20), (10, 30)], 100) == 0


def test_fahrenheit_hours_and_a_heading_are_read():
    text = "time;temperature\n0:00;68\n1:10;1328\n1:40:30;1328"
    assert read_curve(text, in_fahrenheit=True) == [(0, 20), (70, 720), (100.5, 720)]


def test_of_two_readings_in_one_minute_the_later_counts():
    assert read_curve("0, 20\n5, 90\n5, 100\n6, 110") == [(0, 20), (5, 100), (6, 110)]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "Write the readings, two or more"),
        ("45, 720", "One reading makes no curve"),
        ("0, 20\nhot, hotter", "Line 2, “hot, hotter”, is no reading"),
        ("0, 20\n5, inf", "Line 2 says minute 5 at inf"),
        ("0, 20\n5, nan", "Line 2 says minute 5 at nan"),
        ("0, 20\n1:75, 90", "Line 2, “1:75, 90”, is no reading"),
        (f"0, 20\n{'9' * 400}:1, 90", "Line 2 says minute inf"),
        (f"0, 20\n5, {'9' * 400}", "Line 2 says minute 5 at inf"),
        ("9, 20\n5, 30", "Line 2 is at minute 5 and the one before at minute 9"),
        ("0, 20\n5, 2400", "Line 2 says minute 5 at 2400 °C"),
        ("0, 20\n" + "\n".join(f"{n}, 30" for n in range(1, MOST_READINGS + 5)), "more than 5000"),
    ],
)
def test_what_is_no_curve_is_told_at_its_line_and_stays_in_the_box(
    client, workshop, load, text, sentence
):
    client.force_login(workshop["keeper"])
    page = client.post(url(load), {"degrees": "C", "readings": text})
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert page.context["form"]["readings"].value() == text
    assert not FiringCurve.objects.exists()


def test_a_file_of_a_logger_is_read_and_a_bad_line_of_it_can_be_put_right(client, workshop, load):
    client.force_login(workshop["keeper"])
    bad = SimpleUploadedFile("log.csv", b"minute,C\n0,20\n70,hot\n100,720\n")
    page = client.post(url(load), {"degrees": "C", "readings": "", "file": bad})
    assert page.status_code == 422
    assert "Line 3, “70,hot”, is no reading" in page.content.decode()
    assert "70,hot" in page.context["form"]["readings"].value()
    good = SimpleUploadedFile("log.csv", "\ufeffminute;°F\n0;68\n70;1328\n".encode())
    client.post(url(load), {"degrees": "F", "readings": "", "file": good})
    assert FiringCurve.objects.get().points == ((0, 20), (70, 720))


@pytest.mark.parametrize(
    ("name", "content", "sentence"),
    [
        ("photo.png", b"\x89PNG\r\n\x1a\n\0\0\0", "photo.png is no text"),
        ("book.xlsx", b"PK\x03\x04rest", "book.xlsx is no text"),
        ("long.csv", b"0,20\n" * (MOST_BYTES // 4), "long.csv is larger than 256 kB"),
    ],
)
def test_a_file_that_is_no_list_of_readings_is_refused(
    client, workshop, load, name, content, sentence
):
    client.force_login(workshop["keeper"])
    sent = {"degrees": "C", "readings": "0, 20", "file": SimpleUploadedFile(name, content)}
    page = client.post(url(load), sent)
    assert page.status_code == 422
    assert sentence in page.content.decode()
    assert page.context["form"]["readings"].value() == "0, 20"


def test_a_file_in_the_alphabet_of_a_windows_machine_is_read():
    sent = SimpleUploadedFile("log.csv", "minute;°C\n0;20\n1;30".encode("utf-16"))
    assert read_curve(text_of_file(sent)) == [(0, 20), (1, 30)]


def test_a_load_that_is_not_lit_has_no_curve(client, workshop):
    planned = make_load(workshop["kiln"], state=KilnLoad.State.PLANNED)
    with pytest.raises(ValidationError, match="not lit yet"):
        write_curve(planned, [(0, 20), (9, 90)], person=workshop["keeper"])
    client.force_login(workshop["keeper"])
    assert "not lit yet" in client.get(url(planned)).content.decode()


def test_readings_of_another_load_can_be_taken_off_again(client, workshop, load):
    write_curve(load, read_curve(SLOW), person=workshop["keeper"])
    client.force_login(workshop["keeper"])
    client.post(url(load), {"do": "drop"})
    assert not FiringCurve.objects.exists()
    assert AuditEntry.objects.filter(act="drop firing curve").exists()


def test_the_counter_may_look_and_not_write(client, workshop, load):
    write_curve(load, read_curve(SLOW), person=workshop["keeper"])
    client.force_login(make_person("counter"))
    page = client.get(url(load))
    assert page.status_code == 200 and "Keep it with the load" not in page.content.decode()
    assert client.post(url(load), {"readings": SUDDEN}).status_code in {403, 404}
    assert FiringCurve.objects.get().points == tuple(read_curve(SLOW))
