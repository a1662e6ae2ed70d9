"""Every address of the program: the first thing asked of whoever opens it, and of which row.

A line each: name | act and thing asked on GET | and on POST | row its ``public_id`` names. ``-`` stands for a method
that is not answered, ``anybody`` for everybody who is signed in, ``public`` for everybody at all, ``owner`` for what
asks for a role rather than an act.
"""

from dataclasses import dataclass
from typing import Final

from planner.practice.access import Act, Thing

_TABLE: Final = """
practice:home | anybody | anybody | -
health | public | - | -
practice:sign_in | public | public | -
practice:sign_in_code | public | public | -
practice:screen | - | anybody | -
practice:codes | anybody | anybody | -
practice:place | - | anybody | -
practice:end_others | - | anybody | -
practice:sign_out | - | anybody | -
practice:account | anybody | anybody | -
practice:password | anybody | anybody | -
practice:begin | owner | owner | -
practice:begin_step | owner | owner | -
practice:office | view office book | view office book | -
practice:opening | edit office book | edit office book | -
practice:prices | view office book | view office book | -
practice:next_prices | edit office book | edit office book | -
practice:line | edit office book | edit office book | -
practice:table | view office book | view office book | -
practice:rows | edit office book | edit office book | -
practice:row | edit office book | edit office book | -
practice:settings | view office book | view office book | -
practice:limit | edit office book | edit office book | -
practice:propose | create legal settings | create legal settings | -
practice:proposal | approve legal settings | approve legal settings | practice.legalproposal
practice:values | edit office book | edit office book | -
practice:history | view office book | view office book | -
practice:costs | view office book | view office book | -
practice:legal | approve legal settings | approve legal settings | -
practice:files | view office book | view office book | -
practice:export | view office book | view office book | -
practice:file | edit office book | edit office book | practice.bookfile
practice:stock | view stock | view stock | -
practice:stock_receive | create stock | create stock | -
practice:stock_lot | view stock | edit stock | practice.stocklot
practice:clock | view timings | view timings | -
practice:clock_note | create timings | create timings | -
practice:clock_work | view timings | view timings | -
practice:staff | view staff | view staff | -
practice:staff_add | create staff | create staff | -
practice:person | view staff | view staff | practice.staff
practice:person_roles | create staff | create staff | practice.staff
practice:person_end | create staff | create staff | practice.staff
practice:person_password | create staff | create staff | practice.staff
practice:person_codes | create staff | create staff | practice.staff
patients:list | view identity | view identity | -
patients:create | create identity | create identity | -
patients:look | create identity | create identity | -
patients:people | create identity | create identity | -
patients:people_file | create identity | create identity | patients.peoplefile
patients:payer_plans | view payer guess | view payer guess | -
patients:payer_plan_add | create payer guess | create payer guess | -
patients:payer_plan | view payer guess | view payer guess | patients.payerplan
patients:payer_plan_change | edit payer guess | edit payer guess | patients.payerplan
patients:cover_change | edit payer guess | edit payer guess | patients.coverversion
patients:cover_used | create payer guess | create payer guess | patients.coverversion
patients:cover_ask | create payer guess | create payer guess | patients.coverversion
patients:payer_answer | create payer guess | create payer guess | patients.payerquestion
patients:patient | view identity | view identity | patients.patient
patients:covers | view payer guess | view payer guess | patients.patient
patients:cover_add | create payer guess | create payer guess | patients.patient
patients:change | edit identity | edit identity | patients.patient
patients:join | create joined files | create joined files | patients.patient
patients:joined | view joined files | view joined files | patients.joinedfile
patients:stop | edit identity | edit identity | patients.patient
patients:history | view medical flags | view medical flags | patients.patient
patients:history_new | create medical flags | create medical flags | patients.patient
patients:history_form | view medical flags | view medical flags | patients.patient
patients:any_change | create medical flags | create medical flags | patients.patient
patients:examination_add | create measurements | create measurements | patients.patient
patients:examination_look | create measurements | create measurements | patients.patient
patients:examination | view measurements | view measurements | patients.examination
patients:examination_edit | create measurements | create measurements | patients.examination
patients:examination_confirm | approve measurements | approve measurements | patients.examination
patients:pictures | view pictures | view pictures | patients.patient
patients:picture_add | create pictures | create pictures | patients.patient
patients:picture_take_in | create pictures | create pictures | patients.patient
patients:picture | view pictures | view pictures | patients.picturefile
patients:picture_large | view large pictures | view large pictures | patients.picturefile
patients:picture_small | view pictures | view pictures | patients.picturefile
patients:picture_original | view large pictures | view large pictures | patients.picturefile
patients:picture_set_aside | create pictures | create pictures | patients.picturefile
patients:picture_erase | run erasure | run erasure | patients.picturefile
plans:list | view estimate | view estimate | -
plans:evidence | view options | view options | -
plans:take_in | run case file | run case file | -
plans:of_patient | view identity | view identity | patients.patient
plans:create | create case | create case | patients.patient
plans:take_in_for | run case file | run case file | patients.patient
plans:estimate | view estimate | view estimate | plans.estimate
plans:estimate_options | edit estimate | edit estimate | plans.estimate
plans:show | run release | run release | plans.estimate
plans:answer | edit estimate | edit estimate | plans.estimate
plans:reissue | create estimate | create estimate | plans.estimate
plans:discard | edit estimate | edit estimate | plans.estimate
plans:instalments | create accepted plan | create accepted plan | plans.estimate
plans:asked_on | create estimate | create estimate | plans.estimate
plans:payers | view payer guess | create payer guess | plans.estimate
plans:payer_paid | create payer guess | create payer guess | plans.estimate
plans:plan_json | view case file | view case file | plans.estimate
plans:parts | view estimate | view estimate | plans.estimate
plans:accept | create accepted plan | create accepted plan | plans.estimate
plans:accepted | view accepted plan | view accepted plan | plans.acceptedplan
plans:waive_charge | edit receipt | edit receipt | plans.acceptedplan
plans:pay | create receipt | create receipt | plans.acceptedplan
plans:void | edit receipt | edit receipt | plans.acceptedplan
plans:waive | edit receipt | edit receipt | plans.acceptedplan
plans:carry | create receipt | create receipt | plans.acceptedplan
plans:refund | create refund | create refund | plans.acceptedplan
plans:refund_act | view refund | view refund | plans.acceptedplan
plans:amend | approve amendment | approve amendment | plans.acceptedplan
plans:agree | create accepted plan | create accepted plan | plans.acceptedplan
plans:rest | edit accepted plan | edit accepted plan | plans.acceptedplan
plans:resume | edit accepted plan | edit accepted plan | plans.acceptedplan
plans:stop | edit accepted plan | edit accepted plan | plans.acceptedplan
plans:finish | approve item | approve item | plans.acceptedplan
plans:repair | approve amendment | approve amendment | plans.acceptedplan
plans:hold | edit estimate | edit estimate | plans.acceptedplan
plans:balance_call | create balance due | create balance due | plans.acceptedplan
plans:item_act | edit item | edit item | plans.acceptedplan
plans:case | view options | view options | plans.case
plans:wishes | edit case | edit case | plans.case
plans:about | edit case | edit case | plans.case
plans:export | view case file | view case file | plans.case
plans:check | approve release | approve release | plans.case
plans:draft | create estimate | create estimate | plans.case
plans:rests_on | edit case | edit case | plans.case
plans:calendar | view options | view options | plans.case
plans:fit | view measurements | view measurements | plans.case
plans:spaces | view locks | view locks | plans.case
plans:over_years | view options | view options | plans.case
plans:spaces_keep | edit locks | edit locks | plans.case
plans:spaces_findings | edit locks | edit locks | plans.case
plans:matters | edit case | edit case | plans.case
plans:put_together | approve options | approve options | plans.case
plans:minutes | view options | view options | plans.case
plans:change_option | approve options | approve options | plans.case
plans:surfaces | create findings | create findings | plans.case
plans:line_class | edit estimate | edit estimate | plans.case
plans:discounts | edit estimate | edit estimate | plans.case
plans:allow_discount | - | edit estimate | plans.case
plans:take_back_discount | edit estimate | edit estimate | plans.case
plans:figures | approve options | approve options | plans.case
plans:if_then | create findings | create findings | plans.case
plans:strike | approve options | approve options | plans.case
plans:restore | approve options | approve options | plans.case
plans:recommend | approve options | approve options | plans.case
plans:override | create findings | create findings | plans.case
plans:withdraw | create findings | create findings | plans.case
letters:papers | view estimate | view estimate | plans.estimate
letters:agree | view estimate | view estimate | plans.estimate
letters:present | view estimate | view estimate | plans.estimate
letters:present_page | view estimate | view estimate | plans.estimate
letters:hand_over | run release | run release | plans.estimate
letters:ask_shown | run letter | run letter | plans.estimate
letters:answer_shown | run letter | run letter | plans.estimate
letters:take_home | - | create estimate | plans.estimate
letters:take_over | approve options | approve options | plans.case
letters:others_agree | view withdrawal | create withdrawal | plans.case
letters:consents | view case | view case | plans.case
letters:consent | view letter | view letter | letters.consent
letters:talk | run letter | run letter | letters.consent
letters:ask | run letter | run letter | letters.consent
letters:answer | run letter | run letter | letters.consent
letters:sign | run letter | run letter | letters.consent
letters:hand_to_sign | - | run letter | letters.consent
letters:countersign | approve letter | approve letter | letters.consent
letters:withdraw | view letter | view letter | letters.consent
letters:statement | create receipt | create receipt | plans.acceptedplan
letters:receipt | create receipt | create receipt | plans.acceptedplan
letters:refund_letter | create refund | create refund | plans.acceptedplan
letters:shortfall | create payer guess | create payer guess | plans.payerpaid
letters:document | view letter | view letter | letters.document
letters:reading | view letter | view letter | letters.document
letters:hand | view letter | view letter | letters.document
letters:file | view letter | view letter | letters.document
visits:day | view visit | view visit | -
visits:week | view visit | view visit | -
visits:to_book | view visit | view visit | -
visits:ready | view visit | view visit | -
visits:times | view diary | view diary | -
visits:absence | create diary | create diary | -
visits:work_week | create diary | create diary | -
visits:block | create visit | create visit | -
visits:absence_back | edit diary | edit diary | visits.absence
visits:block_back | edit visit | edit visit | visits.blockedtime
visits:laboratory | view laboratory work | view laboratory work | -
visits:order | create laboratory work | create laboratory work | plans.acceptedplan
visits:case | view laboratory work | view laboratory work | visits.laboratorycase
visits:label | edit laboratory work | edit laboratory work | visits.laboratorycase
visits:move_case | edit laboratory work | edit laboratory work | visits.laboratorycase
visits:stock_need | view stock | view stock | -
visits:stock_orders | view stock | view stock | -
visits:stock_orders_csv | view stock | view stock | -
visits:plan | view visit | view visit | plans.acceptedplan
visits:begin | view visit | view visit | plans.acceptedplan
visits:book | create visit | create visit | plans.acceptedplan
visits:visit | view visit | view visit | visits.visit
visits:steps | view visit | view visit | visits.visit
visits:steps_print | - | create step sheet | visits.visit
visits:steps_begin | - | create step sheet | visits.visit
visits:steps_stamp | - | create step sheet | visits.visit
visits:steps_lot | - | create step sheet | visits.visit
visits:steps_found | create step sheet | create step sheet | visits.visit
visits:steps_close | create step sheet | create step sheet | visits.visit
visits:steps_settle | approve amendment | approve amendment | visits.chairnote
visits:took | view timings | view timings | -
visits:took_adopt | edit office book | edit office book | -
visits:care_print | - | view visit | visits.visit
visits:appointment | view visit | view visit | visits.visit
visits:diary_file | view diary | view diary | -
visits:ready_visit | view visit | view visit | visits.visit
visits:move | edit visit | edit visit | visits.visit
visits:cancel | edit visit | edit visit | visits.visit
visits:kept | edit visit | edit visit | visits.visit
visits:no_show | edit visit | edit visit | visits.visit
keeping:past | view erasure | view erasure | -
keeping:person | view erasure | create erasure | patients.patient
keeping:asked | approve erasure | approve erasure | keeping.eraserequest
followup:monday | view Monday page | view Monday page | -
followup:pictures | view Monday page | view Monday page | -
followup:file | view Monday page | view Monday page | -
followup:calls | view follow-up call | view follow-up call | -
followup:call | view follow-up call | create follow-up call | plans.estimate
followup:agreed | create follow-up call | create follow-up call | plans.estimate
followup:lasts | view results of work | view results of work | -
followup:results | view results of work | view results of work | -
followup:result | view review | view review | plans.acceptedplan
followup:review | create review | create review | plans.acceptedplan
followup:review_again | create review | create review | plans.acceptedplan
followup:result_paper | create review | create review | plans.acceptedplan
records:office | view records out | create records out | -
records:patient | run patient copy | run patient copy | patients.patient
records:answer | approve records out | approve records out | records.officecopy
records:take | run records out | run records out | records.officecopy
story:trail | view trail | view trail | -
story:elsewhere | run emergency opening | run emergency opening | -
story:openings | approve emergency opening | approve emergency opening | -
story:opening_seen | approve emergency opening | approve emergency opening | story.emergencyopening
story:problem_step | create problem | create problem | story.problem
story:file | view file story | view file story | patients.patient
story:file_print | - | run file story | patients.patient
story:opened | view file story | view file story | patients.patient
story:opened_print | - | run file story | patients.patient
story:complaint | view file story | view file story | patients.patient
story:complaint_print | - | run file story | patients.patient
story:emergency | run emergency opening | run emergency opening | patients.patient
story:problem | create problem | create problem | patients.patient
verify | public | public | -
handed | public | public | -
handed_page | public | public | -
handed_sign | public | public | -
handed_letter | public | public | -
handed_home | public | public | -
verify_number | public | public | -
"""

SPECIAL: Final = ("-", "anybody", "public", "owner")


@dataclass(frozen=True)
class Address:
    """What is asked at one address; a guard is an act and a thing, or one of ``SPECIAL``."""

    name: str
    get: tuple[Act, Thing] | str
    post: tuple[Act, Thing] | str
    row: str


def _guard(words: str) -> tuple[Act, Thing] | str:
    if words in SPECIAL:
        return words
    act, thing = words.split(" ", 1)
    return Act(act), Thing(thing)


def _read() -> dict[str, Address]:
    found = {}
    for line in _TABLE.strip().splitlines():
        name, get, post, row = (cell.strip() for cell in line.split("|"))
        found[name] = Address(name, _guard(get), _guard(post), row)
    return found


ADDRESSES: Final = _read()
