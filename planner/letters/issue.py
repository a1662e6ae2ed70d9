"""What is known about a paper's handing over: beside the frozen plan, and passed in by whoever issues it."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Answered:
    """A question the patient asked, and what was answered."""

    question: str
    answer: str
    by: str = ""
    on: date | None = None


@dataclass(frozen=True, slots=True)
class Issue:
    """One issue of a paper. Everything has a plain answer where it is left out; nothing is guessed."""

    number: str = ""
    """Number of the estimate; without one the paper is marked as a draft."""
    version: int = 0
    handed_on: date | None = None
    """The day it is handed over; left out, the day the case was planned."""
    valid_through: date | None = None
    """Last local day on which the prices hold."""
    dentist: str = ""
    """The treating dentist, who holds the talk and signs."""
    dentist_role: str = ""
    dentist_licence: str = ""
    does_the_work: str = ""
    """Who will carry it out, where that is somebody else too."""
    chosen: str = ""
    """Key of the option the letter is about; left out, the recommended one."""
    priced: tuple[str, ...] = ()
    """Keys of the options the estimate prices; left out, all that are offered and cost something."""
    own_risks: tuple[str, ...] = ()
    """What weighs in this person's case, in the dentist's words."""
    questions: tuple[Answered, ...] = ()
    guarantee: str = ""
    """Length and exclusions; left out, the letter says that there is none."""
    record: str = ""
    """Number of the patient's record in the office."""
    needs: str = ""
    """What helps the patient to read and to talk, in words; large print is told by itself."""
    interpreter: str = ""
    decided_for_by: str = ""
    """Relationship and legal basis, where somebody else decides for the patient."""
    sedation: bool = False
    """Whether calming drugs are to be asked about, with a tick of their own."""
    shared_with: tuple[str, ...] = ()
    """Who outside the office gets data or pictures for the work; asked about with a tick of its own."""
    reflection_days: int = 0
    """Days to wait between letter and signature, where a rule asks for it."""
    if_stopped: str = ""
    """What changing one's mind costs at which point; left out, the letter says that only work done is charged."""
    ordered_by: str = ""
    """Who orders from a workshop; the date is the day of handing over."""
    wanted_on: date | None = None
    """The day on which the work is wanted back."""
    order_note: str = ""
    """What else the workshop should know; it names no patient."""
    verify_at: str = ""
    """The office's address, below which its page for checking papers is; left out, a paper says how by hand."""
    payer_guess: str = ""
    """The frozen guess of what payers add, JSON; only an estimate prints it."""
    arrangement: str = ""
    """How the estimate is paid in parts as agreed, JSON; only the instalment agreement prints it."""
    account: str = ""
    """What an account says of a row or a day, JSON; only receipts, statements and letters about money print it."""
    duty: str = ""
    """What the estimate brings to the local duty of one, JSON; only an estimate prints it."""
    cancelling: str = ""
    """What cancelling a visit may cost, JSON; only an estimate prints it."""
    steps: str = ""
    """The step sheet of a visit as it was drawn up, JSON; only the step sheet prints it."""
    care: str = ""
    """What is said after a visit, JSON; only the after-care sheet prints it."""
    showing: str = ""
    """What was asked and arranged when the estimate was shown, JSON; only the paper to take home prints it."""
    result: str = ""
    """What finished work came to, JSON; only the paper that sets it against the promise prints it."""

    @property
    def is_draft(self) -> bool:
        """Whether no number was given yet."""
        return not self.number

    @property
    def version_words(self) -> str:
        """``TR-104, version 2``, or ``draft``."""
        if self.is_draft:
            return "draft"
        return f"{self.number}, version {self.version}" if self.version else self.number
