"""Work that can never be fired gets one whole sentence that names the job and what would help."""

import pytest

from orders.planning.errors import PlanningError
from orders.planning.json_form import instance_from_json
from orders.planning.replan import replan
from tests.planning.small import firing, instance, job, kiln, mould


def sentence_for(data: dict) -> PlanningError:
    with pytest.raises(PlanningError) as caught:
        replan(instance_from_json(data), steps=20)
    text = str(caught.value)
    assert text[0].isupper() and text.endswith(".")
    return caught.value


def test_a_bead_no_kiln_is_hot_enough_for():
    error = sentence_for(instance([job(firings=[firing(temp=(1050, 1100))])]))
    assert error.job == "J1"
    assert "1050 to 1100 °C" in str(error) and "no kiln reaches" in str(error)


def test_a_mould_larger_than_every_kiln():
    error = sentence_for(instance(moulds=[mould(places=11)]))
    assert error.job == "J1"
    assert "takes 11 places" in str(error) and "has 10" in str(error)


def test_a_shape_without_a_single_mould():
    error = sentence_for(instance(moulds=[mould(count=0)]))
    assert "no moulds of shape round-12" in str(error)


def test_a_shape_nobody_has_listed():
    error = sentence_for(instance(moulds=[mould("cube-9")]))
    assert "J1" in str(error) and "round-12" in str(error)


def test_a_load_longer_than_the_longest_day():
    # 60 + 25 + 90 = 175 minutes do not go into a day of 120.
    error = sentence_for(instance(windows=[[480, 600], [1920, 2040]]))
    assert "175 minutes" in str(error) and "120" in str(error)


def test_but_it_fits_if_cooling_may_run_past_closing():
    # 60 + 25 = 85 minutes inside the day; out at the next opening, 1920.
    data = instance(windows=[[480, 600], [1920, 2040]], past=True)
    found = replan(instance_from_json(data), steps=20)
    assert found.key.finish_min == 655 or found.key.finish_min == 1920
    assert found.key.finish_min == 1920


def test_beads_nobody_would_ever_take_out():
    # On the last day a load would end after the last closing.
    error = sentence_for(instance(windows=[[480, 600]], past=True))
    assert error.job == "J1"


@pytest.mark.parametrize("windows", [[], [[480, 480]]])
def test_working_hours_of_zero(windows):
    assert "no working hours" in str(sentence_for(instance(windows=windows)))


def test_a_workshop_without_a_kiln():
    assert "no kiln" in str(sentence_for(instance(kilns=[])))


def test_a_calendar_that_ends_before_the_work_is_done():
    # 30 moulds with 8 owned need four loads of 175 minutes; a day of 540 has room for three.
    error = sentence_for(instance([job(qty=360)], windows=[[480, 1020]]))
    assert error.job == "J1"
    assert "6 of its moulds" in str(error) and "later working windows" in str(error)


def test_a_job_of_an_order_nobody_has_listed():
    data = instance([job(order="O9")], orders=[{"id": "O1", "due": 900}])
    assert "order O9" in str(sentence_for(data))


def test_two_jobs_with_one_name():
    assert "two jobs called J1" in str(sentence_for(instance([job(), job()])))


def test_an_empty_order_book_is_an_empty_plan():
    found = replan(instance_from_json(instance([])), steps=5)
    assert found.plan.loads == ()
    assert tuple(found.key) == (0, 0, 0, 0, 0)


def test_a_job_of_no_beads_needs_no_load():
    found = replan(instance_from_json(instance([job(qty=0)])), steps=5)
    assert found.plan.loads == ()


def test_a_kiln_too_cold_for_one_job_still_fires_the_other():
    data = instance(
        [job("J1"), job("J2", firings=[firing(temp=(900, 950))])],
        kilns=[kiln("cool", temp_max=800), kiln("hot", temp_min=850)],
    )
    found = replan(instance_from_json(data), steps=20)
    assert {load.kiln for load in found.plan.loads} == {"cool", "hot"}
