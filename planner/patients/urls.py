"""Addresses of people's files: the file itself, the medical history, examinations and pictures."""

from django.urls import path

from planner.patients import examination_views, history_views, payer_views, people_views, picture_views, views

app_name = "patients"
urlpatterns = [
    path("", views.patient_list, name="list"),
    path("new/", views.create, name="create"),
    path("new/look/", views.look, name="look"),
    path("file/", people_views.send, name="people"),
    path("file/<str:public_id>/", people_views.take, name="people_file"),
    path("payers/", payer_views.plan_list, name="payer_plans"),
    path("payers/new/", payer_views.plan_add, name="payer_plan_add"),
    path("payers/<str:public_id>/", payer_views.plan, name="payer_plan"),
    path("payers/<str:public_id>/change/", payer_views.plan_change, name="payer_plan_change"),
    path("cover/<str:public_id>/change/", payer_views.cover_change, name="cover_change"),
    path("cover/<str:public_id>/used/", payer_views.cover_used, name="cover_used"),
    path("cover/<str:public_id>/ask/", payer_views.cover_ask, name="cover_ask"),
    path("payer-question/<str:public_id>/answer/", payer_views.payer_answer, name="payer_answer"),
    path("<str:public_id>/", views.patient, name="patient"),
    path("<str:public_id>/covers/", payer_views.covers, name="covers"),
    path("<str:public_id>/covers/new/", payer_views.cover_add, name="cover_add"),
    path("<str:public_id>/change/", views.change, name="change"),
    path("<str:public_id>/stop/", views.stop, name="stop"),
    path("<str:public_id>/history/", history_views.history, name="history"),
    path("<str:public_id>/history/new/", history_views.history_new, name="history_new"),
    path("<str:public_id>/history/<str:form_id>/", history_views.history, name="history_form"),
    path("<str:public_id>/any-change/", history_views.any_change, name="any_change"),
    path("<str:public_id>/examinations/new/", examination_views.examination_add, name="examination_add"),
    path("<str:public_id>/examinations/look/", examination_views.examination_look, name="examination_look"),
    path("examinations/<str:public_id>/", examination_views.examination, name="examination"),
    path("examinations/<str:public_id>/edit/", examination_views.examination_edit, name="examination_edit"),
    path("examinations/<str:public_id>/confirm/", examination_views.examination_confirm, name="examination_confirm"),
    path("<str:public_id>/pictures/", picture_views.pictures, name="pictures"),
    path("<str:public_id>/pictures/new/", picture_views.picture_add, name="picture_add"),
    path("<str:public_id>/pictures/take-in/", picture_views.picture_take_in, name="picture_take_in"),
    path("pictures/<str:public_id>/", picture_views.picture, name="picture"),
    path("pictures/<str:public_id>/large/", picture_views.picture_image, {"size": "large"}, name="picture_large"),
    path("pictures/<str:public_id>/small/", picture_views.picture_image, {"size": "small"}, name="picture_small"),
    path("pictures/<str:public_id>/original/", picture_views.picture_original, name="picture_original"),
    path("pictures/<str:public_id>/set-aside/", picture_views.picture_set_aside, name="picture_set_aside"),
    path("pictures/<str:public_id>/erase/", picture_views.picture_erase, name="picture_erase"),
]
