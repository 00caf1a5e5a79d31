"""Addresses. A job is named by its id in files, under the company of who signs in."""

from django.urls import path

from jobs.views import (
    account,
    feeds,
    forward,
    health,
    issuing,
    jobs,
    logging_work,
    now,
    passwords,
    people,
    recipes,
    sensor_posts,
    sensors,
    stints,
    wall,
    weather,
    week,
)
from jobs.views import calendars as calendar_links

urlpatterns = [
    path("healthz", health.healthz, name="healthz"),
    path("readyz", health.readyz, name="readyz"),
    *feeds.urlpatterns,
    *sensor_posts.urlpatterns,
    path("", jobs.listing, name="jobs"),
    path("sign-in/", account.SignIn.as_view(), name="sign-in"),
    path("sign-out/", account.SignOut.as_view(), name="sign-out"),
    path("account/", account.account, name="account"),
    *people.urlpatterns,
    *passwords.urlpatterns,
    path("units/", account.switch_units, name="units"),
    path("import/", jobs.import_file, name="import-job"),
    path("jobs/<slug:job>/", now.now_page, name="job"),
    path("jobs/<slug:job>/file.json", jobs.export_file, name="export-job"),
    path("jobs/<slug:job>/wall/<slug:surface>/", wall.wall_page, name="wall"),
    path(
        "jobs/<slug:job>/forward/<slug:surface>/", forward.forward_page, name="forward"
    ),
    path(
        "jobs/<slug:job>/forward/<slug:surface>/part/",
        forward.forward_part,
        name="forward-part",
    ),
    path("jobs/<slug:job>/coat/", logging_work.coat_on, name="coat-on"),
    path("jobs/<slug:job>/test/", logging_work.test, name="test"),
    path("jobs/<slug:job>/reading/", logging_work.reading, name="reading"),
    path("jobs/<slug:job>/undo/", logging_work.undo, name="undo"),
    path("jobs/<slug:job>/week/", week.week_page, name="week"),
    path("jobs/<slug:job>/week/plan/", week.plan_again, name="plan-again"),
    path("jobs/<slug:job>/week/run/", week.run_part, name="run"),
    path("jobs/<slug:job>/week/stop/", week.stop, name="stop-run"),
    *weather.urlpatterns,
    *sensors.urlpatterns,
    path("jobs/<slug:job>/week/<int:number>/issue/", issuing.issue, name="issue-plan"),
    path("jobs/<slug:job>/week/stint/<slug:stint>/", stints.stint_page, name="stint"),
    path(
        "jobs/<slug:job>/week/pins/<int:pin>/off/",
        stints.take_off_pin,
        name="take-off-pin",
    ),
    path(
        "jobs/<slug:job>/week/bans/<int:ban>/off/",
        stints.take_off_ban,
        name="take-off-ban",
    ),
    path("jobs/<slug:job>/recipes/", recipes.listing, name="recipes"),
    path("jobs/<slug:job>/recipes/<slug:recipe>/", recipes.recipe_page, name="recipe"),
    path("jobs/<slug:job>/calendars/", calendar_links.listing, name="calendars"),
    path("jobs/<slug:job>/calendars/make/", calendar_links.make, name="make-calendar"),
    path(
        "jobs/<slug:job>/calendars/<int:link>/off/",
        calendar_links.switch_off,
        name="switch-off-calendar",
    ),
]
