"""Addresses of the diary."""

from django.urls import path

from planner.visits import (
    booking_views,
    calendar_views,
    laboratory_views,
    ready_views,
    step_views,
    stock_views,
    time_views,
    views,
)

app_name = "visits"
urlpatterns = [
    path("", views.day, name="day"),
    path("week/", views.week, name="week"),
    path("to-book/", views.plans_to_book, name="to_book"),
    path("ready/", ready_views.ready_list, name="ready"),
    path("times/", time_views.times, name="times"),
    path("times/absence/", time_views.absence, name="absence"),
    path("times/week/", time_views.work_week, name="work_week"),
    path("times/block/", time_views.block, name="block"),
    path("times/absence/<str:public_id>/back/", time_views.absence_back, name="absence_back"),
    path("times/block/<str:public_id>/back/", time_views.block_back, name="block_back"),
    path("laboratory/", laboratory_views.cases, name="laboratory"),
    path("laboratory/of/<str:public_id>/", laboratory_views.order, name="order"),
    path("laboratory/<str:public_id>/", laboratory_views.case, name="case"),
    path("laboratory/<str:public_id>/label/", laboratory_views.label, name="label"),
    path("laboratory/<str:public_id>/<slug:to>/", laboratory_views.move, name="move_case"),
    path("stock/", stock_views.stock_against_visits, name="stock_need"),
    path("stock/order/", stock_views.stock_orders, name="stock_orders"),
    path("stock/order.csv", stock_views.stock_orders_csv, name="stock_orders_csv"),
    path("of/<str:public_id>/", booking_views.plan, name="plan"),
    path("of/<str:public_id>/book/", booking_views.book, name="book"),
    path("<str:public_id>/", views.visit, name="visit"),
    path("<str:public_id>/steps/", step_views.steps, name="steps"),
    path("<str:public_id>/steps/print/", step_views.print_sheet, name="steps_print"),
    path("<str:public_id>/steps/begin/", step_views.begin, name="steps_begin"),
    path("<str:public_id>/steps/stamp/", step_views.stamp, name="steps_stamp"),
    path("<str:public_id>/steps/lot/", step_views.lot, name="steps_lot"),
    path("<str:public_id>/steps/found/", step_views.found, name="steps_found"),
    path("<str:public_id>/steps/close/", step_views.close, name="steps_close"),
    path("steps/note/<str:public_id>/", step_views.settle, name="steps_settle"),
    path("<str:public_id>/appointment.ics", calendar_views.visit_file, name="appointment"),
    path("diary/<str:public_id>.ics", calendar_views.diary_file, name="diary_file"),
    path("<str:public_id>/ready/", ready_views.ready_visit, name="ready_visit"),
    path("<str:public_id>/move/", booking_views.move, name="move"),
    path("<str:public_id>/cancel/", booking_views.cancel, name="cancel"),
    path("<str:public_id>/kept/", booking_views.kept, name="kept"),
    path("<str:public_id>/no-show/", booking_views.no_show, name="no_show"),
]
