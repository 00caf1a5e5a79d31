"""What a plan says beside its stints."""

from dataclasses import replace

from jobs.factories import (
    AirHourFactory,
    BreakFactory,
    HoursFactory,
    MaterialFactory,
)
from scheduling.notes import air_notes, caution_notes, unused_notes
from scheduling.problem import LabelPoint
from scheduling.room_air import constant_air
from tests.scheduling.planning_jobs import at, coat, job_of, paint


def test_what_can_hurt_is_said_with_its_caution_and_who_decides():
    oil = replace(
        paint(), family="oil", oily=True, solvent=True, labels={"touch": 60.0}
    )
    notes = list(caution_notes(job_of((coat(),), materials=(oil,))))
    assert len(notes) == 2
    assert "1926.252(e)" in notes[0]
    assert all("Local codes and licensed practice decide" in note for note in notes)
    lime = replace(paint(), family="lime")
    assert "lime burns" in next(
        iter(caution_notes(job_of((coat(),), materials=(lime,))))
    )


def test_a_material_that_no_wall_gets_is_not_warned_of():
    oil = MaterialFactory(id="spare", family="oil", oily=True)
    job = job_of((coat(),))
    job = replace(job, materials=(*job.materials, oil))
    assert list(caution_notes(job)) == []


def test_wind_is_said_not_to_count_yet():
    job = replace(job_of((coat(),)), outdoors=(AirHourFactory(wind_m_s=4.0),))
    assert any("Wind" in note for note in unused_notes(job))


def test_each_value_that_is_not_planned_with_yet_is_said_once():
    hours = (HoursFactory(),)
    relay = (HoursFactory(breaks=(BreakFactory(relay=True),)),)
    same = LabelPoint(air=paint().label_air, labels={"recoat": 300.0})
    job = job_of((coat(),))
    assert list(unused_notes(job)) == []
    job = replace(
        job,
        materials=(replace(paint(), points=(same,)),),
        hands=(replace(job.hands[0], hours=relay),),
        surfaces=(replace(job.surfaces[0], sun=hours),),
    )
    notes = list(unused_notes(job))
    assert len(notes) == len(set(notes)) == 3
    assert any("its air is given" in note for note in notes)


def test_how_far_the_outdoor_air_reaches_is_said_on_the_sites_clock():
    job = replace(job_of((coat(),)), outdoors=(AirHourFactory(at=at(1, "06:00")),))
    air = constant_air(at(0, "00:00"), temperature_c=8.0, humidity_pct=80.0)
    (note,) = air_notes(job, air)
    assert "until Tue 13 Oct 06:00" in note
    assert "last 48 h" in note
    assert list(air_notes(job, None)) == []
