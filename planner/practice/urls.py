"""Addresses of the practice: signing in, opening the first office, the office book, and its people."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from planner.practice import (
    begin_views,
    clock_views,
    exchange_views,
    office_views,
    part_views,
    settings_views,
    staff_views,
    stock_views,
    views,
)

app_name = "practice"
urlpatterns = [
    path("", views.home, name="home"),
    path("sign-in/", views.SignIn.as_view(), name="sign_in"),
    path("sign-out/", LogoutView.as_view(), name="sign_out"),
    path("account/", views.account, name="account"),
    path("account/password/", views.password, name="password"),
    path("begin/", begin_views.begin, name="begin"),
    path("begin/<slug:step>/", begin_views.begin, name="begin_step"),
    path("office/", office_views.office, name="office"),
    path("office/opening/", office_views.opening, name="opening"),
    path("office/prices/<int:version>/", office_views.prices, name="prices"),
    path("office/prices/next/", office_views.next_prices, name="next_prices"),
    path("office/prices/next/line/", part_views.line, name="line"),
    path("office/table/<slug:part>/", part_views.table, name="table"),
    path("office/table/<slug:part>/change/", part_views.rows, name="rows"),
    path("office/table/<slug:part>/row/", part_views.row, name="row"),
    path("office/settings/", settings_views.settings, name="settings"),
    path("office/settings/limit/", settings_views.limit, name="limit"),
    path("office/settings/propose/", settings_views.propose, name="propose"),
    path("office/settings/proposal/<str:public_id>/", settings_views.proposal, name="proposal"),
    path("office/settings/change/<slug:group>/", settings_views.values, name="values"),
    path("office/settings/history/<str:name>/", settings_views.history, name="history"),
    path("office/costs/", settings_views.costs, name="costs"),
    path("office/legal/", office_views.legal, name="legal"),
    path("office/files/", exchange_views.files, name="files"),
    path("office/files/out/<slug:part>.<slug:kind>", exchange_views.export, name="export"),
    path("office/files/<str:public_id>/", exchange_views.file, name="file"),
    path("stock/", stock_views.stock, name="stock"),
    path("stock/receive/", stock_views.stock_receive, name="stock_receive"),
    path("stock/lot/<str:public_id>/", stock_views.stock_lot, name="stock_lot"),
    path("office/clock/", clock_views.clock, name="clock"),
    path("office/clock/note/", clock_views.clock_note, name="clock_note"),
    path("office/clock/<str:key>/", clock_views.clock_work, name="clock_work"),
    path("staff/", staff_views.staff_list, name="staff"),
    path("staff/add/", staff_views.staff_add, name="staff_add"),
    path("staff/<str:public_id>/", staff_views.person, name="person"),
    path("staff/<str:public_id>/roles/", staff_views.person_roles, name="person_roles"),
    path("staff/<str:public_id>/end/", staff_views.person_end, name="person_end"),
    path("staff/<str:public_id>/password/", staff_views.person_password, name="person_password"),
]
