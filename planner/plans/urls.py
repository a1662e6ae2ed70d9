"""Addresses of cases, the decisions about them, and estimates."""

from django.urls import path

from planner.plans import (
    basis_views,
    calendar_views,
    decision_views,
    estimate_views,
    fit_views,
    space_views,
    views,
    years_views,
)

app_name = "plans"
urlpatterns = [
    path("", estimate_views.estimate_list, name="list"),
    path("take-in/", views.take_in, name="take_in"),
    path("of/<str:public_id>/", views.of_patient, name="of_patient"),
    path("of/<str:public_id>/new/", views.create, name="create"),
    path("of/<str:public_id>/take-in/", views.take_in, name="take_in_for"),
    path("estimate/<str:public_id>/", estimate_views.estimate, name="estimate"),
    path("estimate/<str:public_id>/options/", estimate_views.options, name="estimate_options"),
    path("estimate/<str:public_id>/show/", estimate_views.show, name="show"),
    path("estimate/<str:public_id>/answer/", estimate_views.answer, name="answer"),
    path("estimate/<str:public_id>/new-issue/", estimate_views.reissue, name="reissue"),
    path("estimate/<str:public_id>/discard/", estimate_views.discard, name="discard"),
    path("estimate/<str:public_id>/plan.json", estimate_views.plan_json, name="plan_json"),
    path("<str:public_id>/", views.case, name="case"),
    path("<str:public_id>/wishes/", views.wishes, name="wishes"),
    path("<str:public_id>/about/", views.about, name="about"),
    path("<str:public_id>/case-file/", views.export, name="export"),
    path("<str:public_id>/check/", estimate_views.check, name="check"),
    path("<str:public_id>/estimate/", estimate_views.draft, name="draft"),
    path("<str:public_id>/rests-on/", basis_views.rests_on, name="rests_on"),
    path("<str:public_id>/calendar/", calendar_views.calendar, name="calendar"),
    path("<str:public_id>/fit/", fit_views.fit, name="fit"),
    path("<str:public_id>/spaces/", space_views.spaces, name="spaces"),
    path("<str:public_id>/over-the-years/", years_views.over_the_years, name="over_years"),
    path("<str:public_id>/spaces/keep/", space_views.spaces_keep, name="spaces_keep"),
    path("<str:public_id>/spaces/findings/", space_views.spaces_findings, name="spaces_findings"),
    path("<str:public_id>/surfaces/", decision_views.surfaces, name="surfaces"),
    path("<str:public_id>/tax-class/", decision_views.line_class, name="line_class"),
    path("<str:public_id>/figures/", decision_views.figures, name="figures"),
    path("<str:public_id>/if-then/", decision_views.if_then, name="if_then"),
    path("<str:public_id>/option/<str:key>/strike/", decision_views.strike, name="strike"),
    path("<str:public_id>/option/<str:key>/restore/", decision_views.restore, name="restore"),
    path("<str:public_id>/option/<str:key>/recommend/", decision_views.recommend, name="recommend"),
    path("<str:public_id>/option/<str:key>/override/<str:gate>/", decision_views.override, name="override"),
    path("<str:public_id>/option/<str:key>/override/<str:gate>/withdraw/", decision_views.withdraw, name="withdraw"),
]
