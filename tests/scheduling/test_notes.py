"""What a plan says beside its stints."""

from dataclasses import replace

from jobs.factories import AirHourFactory, MaterialFactory
from scheduling.notes import caution_notes, unused_notes
from tests.scheduling.planning_jobs import coat, job_of, paint


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
