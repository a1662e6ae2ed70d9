"""Addresses of the Monday page, of calls and of what came of finished work."""

from django.urls import path, re_path

from planner.followup import result_views, views, work_views

app_name = "followup"
urlpatterns = [
    path("", views.monday, name="monday"),
    path("pictures/", views.drawn, name="pictures"),
    re_path(r"^table\.(?P<ending>csv|xlsx)$", views.file, name="file"),
    path("calls/", views.calls, name="calls"),
    path("calls/<str:public_id>/", views.call, name="call"),
    path("calls/<str:public_id>/day/", views.agreed, name="agreed"),
    path("lasts/", work_views.lasts, name="lasts"),
    path("results/", work_views.results, name="results"),
    path("result/<str:public_id>/", result_views.result, name="result"),
    path("result/<str:public_id>/review/", result_views.review, name="review"),
    path("result/<str:public_id>/review/<str:corrects>/", result_views.review, name="review_again"),
    path("result/<str:public_id>/paper/", result_views.paper, name="result_paper"),
]
