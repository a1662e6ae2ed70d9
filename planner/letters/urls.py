"""Addresses of papers."""

from django.urls import path

from planner.letters import (
    account_views,
    agree_views,
    consent_views,
    others_views,
    reading_views,
    showing_views,
    sign_views,
    taking_over_views,
    views,
)

app_name = "letters"
urlpatterns = [
    path("of/<str:public_id>/", views.papers, name="papers"),
    path("of/<str:public_id>/agree/", agree_views.agree, name="agree"),
    path("show/<str:public_id>/", showing_views.present, name="present"),
    path("show/<str:public_id>/<int:page>/", showing_views.present, name="present_page"),
    path("show/<str:public_id>/hand-over/", showing_views.hand_over, name="hand_over"),
    path("show/<str:public_id>/question/", showing_views.ask, name="ask_shown"),
    path("show/<str:public_id>/question/<str:question>/", showing_views.answer, name="answer_shown"),
    path("show/<str:public_id>/take-home/", showing_views.take_home, name="take_home"),
    path("case/<str:public_id>/take-over/", taking_over_views.take_case_over, name="take_over"),
    path("case/<str:public_id>/others/", others_views.others, name="others_agree"),
    path("consents/<str:public_id>/", consent_views.of_case, name="consents"),
    path("consent/<str:public_id>/", consent_views.consent, name="consent"),
    path("consent/<str:public_id>/talk/", consent_views.talk, name="talk"),
    path("consent/<str:public_id>/question/", consent_views.ask, name="ask"),
    path("consent/<str:public_id>/question/<str:question>/", consent_views.answer, name="answer"),
    path("consent/<str:public_id>/sign/", sign_views.sign, name="sign"),
    path("consent/<str:public_id>/hand-over/", showing_views.hand_to_sign, name="hand_to_sign"),
    path("consent/<str:public_id>/countersign/", sign_views.confirm, name="countersign"),
    path("consent/<str:public_id>/withdraw/", sign_views.withdraw, name="withdraw"),
    path("account/<str:public_id>/statement/", account_views.statement, name="statement"),
    path("account/<str:public_id>/receipt/<str:row>/", account_views.receipt, name="receipt"),
    path("account/<str:public_id>/refund/<str:row>/", account_views.refund, name="refund_letter"),
    path("account/payer-paid/<str:public_id>/", account_views.shortfall, name="shortfall"),
    path("<str:public_id>/", views.document, name="document"),
    path("<str:public_id>/reading/", reading_views.reading, name="reading"),
    path("<str:public_id>/hand/", consent_views.hand, name="hand"),
    path("<str:public_id>/file/", views.file, name="file"),
]
