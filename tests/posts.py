"""Every address that takes something sent, and what two people who send at once come to there.

A line each: name | kind | why it is right so, or what holds it. The kinds:

``edits``  changes what is saved: it carries the version that was opened, whoever saves second sees both
``moves``  brings something from one state to another: pressed a second time it is refused with a sentence
``grows``  writes a new row: the same press never writes two, two presses by two people may be right
``looks``  reads what is sent and stores nothing of it
``self``   is about nobody but whoever is signed in, on this screen
``reads``  does not look at what is sent
"""

from dataclasses import dataclass
from typing import Final

KINDS: Final = ("edits", "moves", "grows", "looks", "self", "reads")
_TABLE: Final = """
practice:home | reads
practice:sign_in | self | a second try is signing in
practice:sign_in_code | self | a code is taken once
practice:screen | self | a screen goes blank or wakes
practice:codes | self | set up against one secret, shown once
practice:place | self | the last choice holds
practice:end_others | self | what is ended stays ended
practice:sign_out | self | signed out twice is signed out
practice:account | reads
practice:password | self | the password in use is asked for
practice:begin | self | kept in the own session until the office is there
practice:begin_step | self | refused once there is an office
practice:office | reads
practice:opening | edits | the version of the office book
practice:prices | reads
practice:next_prices | edits | the version of the office book
practice:line | edits | the version of the office book
practice:table | reads
practice:rows | edits | the version of the office book
practice:row | edits | the version of the office book
practice:settings | reads
practice:limit | edits | the version of the office book
practice:propose | grows | two may propose different days
practice:proposal | moves | answered once
practice:values | edits | the version of the office book
practice:history | reads
practice:costs | reads
practice:legal | edits | the version of the office book; what is in effect is never rewritten
practice:files | grows | a file kept twice changes nothing until it is taken
practice:export | reads
practice:file | edits | the version of the office book; held against it anew
practice:stock | reads
practice:stock_receive | grows | two packs of one lot may come on one day
practice:stock_lot | grows | two take out of one lot on one day
practice:clock | reads
practice:clock_note | grows | the same work may be timed twice a day
practice:clock_work | moves | what was timed is taken into the book once
practice:staff | reads
practice:staff_add | grows | a second of the same sign-in name is refused
practice:person | reads
practice:person_roles | edits | the version of the person
practice:person_end | moves | ended once
practice:person_password | grows | the newest one-time password holds, each is shown once
practice:person_codes | moves | the codes that held when the page was opened
patients:list | looks | a search is posted so that no name stands in an address
patients:create | grows | somebody alike is asked about first
patients:look | looks | how a name is sorted, and who is alike
patients:people | grows | a file is looked at before anybody is taken from it
patients:people_file | moves | taken once; the file is gone then
patients:payer_plans | reads
patients:payer_plan_add | grows | a payer has many plans
patients:payer_plan | reads
patients:payer_plan_change | edits | the number of the plan's version
patients:cover_change | edits | the number of the cover's version
patients:cover_used | grows | the newest that was told holds
patients:cover_ask | grows | a payer may be asked twice
patients:payer_answer | moves | answered once
patients:patient | reads
patients:covers | reads
patients:cover_add | grows | somebody may be covered twice
patients:change | edits | the version of the file
patients:join | moves | asked for once, while it is open
patients:joined | moves | one step after the other, each by another person
patients:stop | moves | stopped or allowed, whichever was asked for
patients:history | reads
patients:history_new | grows | each signed form is a form of its own
patients:history_form | reads
patients:any_change | grows | asked on each day of treatment, by whoever asks
patients:examination_add | grows | each set of measurements is a set of its own
patients:examination_look | looks | what was typed is read back
patients:examination | reads
patients:examination_edit | edits | the version of the draft
patients:examination_confirm | moves | confirmed as it was read, or read again
patients:pictures | reads
patients:picture_add | grows | a picture may be read by two
patients:picture_take_in | grows | a file that is there is refused by its hash
patients:picture | reads
patients:picture_large | reads
patients:picture_small | reads
patients:picture_original | reads
patients:picture_set_aside | moves | set aside once
patients:picture_erase | moves | erased once
plans:list | reads
plans:evidence | reads
plans:take_in | grows | a case on file is brought up to date, not doubled
plans:of_patient | reads
plans:create | grows | one person may have several cases
plans:take_in_for | grows | a case on file is brought up to date, not doubled
plans:estimate | reads
plans:estimate_options | edits | the version of the draft
plans:show | moves | shown again to another person is another showing; an answered one is refused
plans:answer | moves | answered once
plans:reissue | moves | one next issue at a time
plans:discard | moves | what is thrown away is not there
plans:instalments | grows | the newest arrangement holds
plans:asked_on | grows | the newest note holds
plans:payers | grows | the newest guess holds
plans:payer_paid | moves | paid once for a guess
plans:plan_json | reads
plans:parts | reads
plans:accept | moves | the version of the estimate
plans:accepted | reads
plans:waive_charge | moves | waived once
plans:pay | grows | the same amount may come in twice
plans:void | moves | taken back once
plans:waive | moves | waived once
plans:carry | grows | never more than is held
plans:refund | grows | never more than is held
plans:refund_act | moves | the version of the refund
plans:amend | grows | each change is a row; dropped items are not dropped again
plans:agree | moves | agreed to once
plans:rest | moves | the version of the plan
plans:resume | moves | the version of the plan
plans:stop | moves | the version of the plan
plans:finish | moves | the version of the plan
plans:repair | grows | a tooth may be repaired twice
plans:hold | grows | each term is a row
plans:balance_call | grows | two calls are two calls
plans:item_act | moves | the version of the item, or a stage, a month, a bill that is there already
plans:case | reads
plans:wishes | edits | the version of the case
plans:about | edits | the version of the case
plans:export | reads
plans:check | moves | the hash of the plan on the screen
plans:draft | grows | two drafts of one case are told apart by their numbers
plans:rests_on | edits | the version of the case
plans:calendar | reads
plans:fit | reads
plans:spaces | looks | how the spaces would be shared
plans:over_years | reads
plans:spaces_keep | edits | the version of the case
plans:spaces_findings | edits | the version of the case
plans:matters | edits | the version of the case
plans:put_together | edits | the version of the case
plans:minutes | reads
plans:change_option | edits | the version of the case
plans:surfaces | edits | the version of the case
plans:line_class | edits | the version of the case
plans:discounts | edits | the version of the case
plans:allow_discount | moves | the version of the case
plans:take_back_discount | moves | the version of the case
plans:figures | edits | the version of the case
plans:if_then | edits | the version of the case
plans:strike | edits | the version of the case
plans:restore | edits | the version of the case
plans:recommend | edits | the version of the case
plans:override | edits | the version of the case
plans:withdraw | edits | the version of the case
letters:papers | grows | each paper made is a paper
letters:agree | reads
letters:present | reads
letters:present_page | reads
letters:hand_over | moves | the version of the estimate
letters:ask_shown | grows | two questions are two questions
letters:answer_shown | moves | the answers that were there; a better one is added by whoever has read them
letters:take_home | grows | each paper made is a paper
letters:take_over | moves | from whoever treated the case when it was opened
letters:others_agree | grows | what each person said last holds
letters:consents | reads
letters:consent | reads
letters:talk | grows | two talks are two talks
letters:ask | grows | two questions are two questions
letters:answer | moves | the answers that were there; a better one is added by whoever has read them
letters:sign | moves | the hash of the letter; signed once
letters:hand_to_sign | self | hands this screen over
letters:countersign | moves | countersigned once
letters:withdraw | moves | taken back once
letters:statement | grows | each paper made is a paper
letters:receipt | grows | each paper made is a paper
letters:refund_letter | grows | each paper made is a paper
letters:shortfall | grows | each paper made is a paper
letters:document | reads
letters:reading | moves | signed for once
letters:hand | grows | each handing over is a row
letters:file | reads
visits:day | reads
visits:week | reads
visits:to_book | reads
visits:ready | reads
visits:times | reads
visits:absence | grows | two entries of one leave say the same
visits:work_week | grows | the newest week of a day holds
visits:block | grows | time that is taken is refused
visits:absence_back | moves | the version of the row
visits:block_back | moves | the version of the row
visits:laboratory | reads
visits:order | grows | one item may want two pieces of work
visits:case | reads
visits:label | moves | the version of the work
visits:move_case | moves | the version of the work
visits:stock_need | reads
visits:stock_orders | reads
visits:stock_orders_csv | reads
visits:plan | reads
visits:begin | moves | the version of the plan
visits:book | grows | time that is taken is refused
visits:visit | reads
visits:steps | reads
visits:steps_print | grows | the newest printed sheet is worked by
visits:steps_begin | moves | begun once
visits:steps_stamp | moves | one step after the other
visits:steps_lot | grows | a second pack may be opened at one step
visits:steps_found | grows | two findings are two notes
visits:steps_close | moves | closed once
visits:steps_settle | moves | settled once
visits:took | reads
visits:took_adopt | moves | what was used is taken into the book once
visits:care_print | grows | each paper made is a paper
visits:appointment | reads
visits:diary_file | reads
visits:ready_visit | reads
visits:move | moves | the version of the visit
visits:cancel | moves | the version of the visit
visits:kept | moves | the version of the visit
visits:no_show | moves | the version of the visit
keeping:past | reads
keeping:person | moves | asked once while it is open
keeping:asked | moves | the version of the request
followup:monday | reads
followup:pictures | reads
followup:file | reads
followup:calls | reads
followup:call | grows | two calls are two calls
followup:agreed | grows | the newest agreement holds
followup:lasts | reads
followup:results | reads
followup:result | reads
followup:review | grows | a tooth may be looked at twice
followup:review_again | moves | corrected once
followup:result_paper | grows | each paper made is a paper
records:office | grows | one is asked for at a time, or each with its reason
records:patient | grows | each copy that goes out is a row
records:answer | moves | answered once
records:take | grows | each copy that goes out is a row
story:trail | reads
story:elsewhere | grows | each opening is a row, and looked into
story:openings | reads
story:opening_seen | moves | looked into once
story:problem_step | grows | two steps are two steps
story:file | reads
story:file_print | grows | each paper that goes out is a row
story:opened | reads
story:opened_print | grows | each paper that goes out is a row
story:complaint | reads
story:complaint_print | grows | each paper that goes out is a row
story:emergency | grows | each opening is a row, and looked into
story:problem | grows | two problems are two problems
verify | looks | a number or a file is held against the record
handed | reads
handed_home | grows | one that says nothing new is not made again
handed_page | reads
handed_sign | moves | signed once
handed_letter | reads
verify_number | looks | a number or a file is held against the record
"""

# A press that is led on is done once (planner/practice/presses.py). These answer with a page, a part of one or a file
# instead, so that the same press sent twice reaches the service twice: why that does no harm.
_ANSWERS_ITSELF: Final = """
practice:staff_add | a page with a password shown once | the sign-in name is taken by then, and nobody is added twice
practice:person_password | a page with a password shown once | the page that is seen last shows the one that holds
patients:examination_add | a part: more rows, sides exchanged | parts read back what was typed; what is stored leads on
patients:examination_edit | a part: more rows, sides exchanged | parts read back what was typed; what is stored leads on
plans:instalments | a part: what it comes to | the part is fetched, never posted; what is sent leads on
plans:spaces_keep | a part: how the spaces are shared | parts go to the page that looks; what is kept leads on
plans:spaces_findings | a part: how the spaces are shared | parts go to the page that looks; what is kept leads on
letters:papers | a part: the papers there are | the part is fetched, never posted; what is made leads on
visits:steps_begin | a part: the step sheet | begun once, and whoever taps again reads since when
visits:steps_stamp | a part: the step sheet | the same stamp stands once, and whoever taps again reads since when
visits:steps_lot | a part: the step sheet | the same lot stands once at a step
records:patient | a file | each file that goes out is an entry of the record, and nothing else is stored
records:take | a file | each file that goes out is an entry of the record, and nothing else is stored
story:file_print | a file | each file that goes out is an entry of the record, and nothing else is stored
story:opened_print | a file | each file that goes out is an entry of the record, and nothing else is stored
story:complaint_print | a file | each file that goes out is an entry of the record, and nothing else is stored
handed_home | a file | the paper is made once, and each handing out is an entry of the record
practice:file | a page that tells how far it is | taken against the version of the book that was seen
"""


@dataclass(frozen=True, slots=True)
class Post:
    """What sending to one address comes to."""

    name: str
    kind: str
    why: str


def _read() -> dict[str, Post]:
    found = {}
    for line in _TABLE.strip().splitlines():
        name, kind, *why = (cell.strip() for cell in line.split("|"))
        found[name] = Post(name, kind, why[0] if why else "")
    return found


POSTS: Final = _read()
ANSWERS_ITSELF: Final = {line.split(" | ")[0]: line.split(" | ")[2] for line in _ANSWERS_ITSELF.strip().splitlines()}
"""Name, and why the same press sent twice does no harm there."""
