"""Reading and writing case files: the documented JSON form of :class:`~planner.rules.mouth.CaseFacts`.

A file that is wrong is refused whole, with every fault listed: where it is (a path such as
``examination.teeth[2].width``), what was written, why that cannot be, and what would be right. Numbers are read as
decimals, never as binary floating point. A plausible slip (a width beyond what teeth measure, a tooth wider than
long) is a question, not a fault: see :func:`planner.rules.contradictions.doubts`.
"""

import copy
import json
import re
from collections.abc import Iterable, Iterator
from datetime import date, timedelta
from typing import Any

from pydantic import ValidationError

from planner.rules.contradictions import contradictions, contradictions_of_parts
from planner.rules.mouth import CaseFacts
from planner.rules.teeth import Numbering
from planner.rules.typed_files import Fault, UnreadableError, faults_of, json_values

FORMAT = "leastways-case"
VERSIONS = (1,)
LARGEST_BYTES = 1_000_000
NAMES = "docs/case-file.md"
_OFFSET = re.compile(r"d([+-]\d{1,5})")


class CaseFileError(ValueError):
    """A case file that cannot be taken; :attr:`faults` lists everything that is wrong with it."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


def read_case(content: bytes, today: date) -> CaseFacts:
    """The facts in a case file, as of ``today`` (no date of an observation may lie after it).

    Raises CaseFileError with every fault.
    """
    return validate_case(parse_case(content), today)


def resolve_days(data: Any, day_zero: date) -> Any:
    """``data`` with every ``"d-20"`` replaced by the day that lies so many days from ``day_zero``.

    Example cases are written so, because findings grow stale; a case file proper holds dates.
    """
    if isinstance(data, dict):
        return {key: resolve_days(value, day_zero) for key, value in data.items()}
    if isinstance(data, list):
        return [resolve_days(value, day_zero) for value in data]
    if isinstance(data, str) and (offset := _OFFSET.fullmatch(data)):
        return (day_zero + timedelta(days=int(offset[1]))).isoformat()
    return data


def validate_case(data: object, today: date) -> CaseFacts:
    """The facts in a case already read as JSON values. Raises CaseFileError with every fault."""
    if not isinstance(data, dict):
        raise CaseFileError([Fault("", f'A case file is a JSON object that begins {{"format": "{FORMAT}", ...}}.')])
    head = list(_head_faults(data))
    if head:
        raise CaseFileError(head)
    numbering = Numbering(data["numbering"])
    try:
        facts = CaseFacts.model_validate(data, context={"numbering": numbering})
    except ValidationError as error:
        found = [*faults_of(error, NAMES), *_also_wrong(data, error, numbering, today)]
        raise CaseFileError(found) from None
    wrong = [Fault(path, sentence) for path, sentence in contradictions(facts, today)]
    if wrong:
        raise CaseFileError(wrong)
    return facts


def _also_wrong(data: Any, error: ValidationError, numbering: Numbering, today: date) -> Iterator[Fault]:
    """What else is wrong in the parts that could be read, so that one slip does not hide another."""
    rest, kept = _without(data, [item["loc"] for item in error.errors(include_url=False)])
    try:
        facts = CaseFacts.model_validate(rest, context={"numbering": numbering})
    except ValidationError:
        return
    for path, sentence in contradictions_of_parts(facts, today):
        yield Fault(_as_written(path, kept), sentence)


def _without(data: Any, locations: Iterable[tuple[int | str, ...]]) -> tuple[Any, dict[str, list[int]]]:
    """``data`` without the entries at ``locations`` (a whole list item where one lies inside it).

    Second, for every list that lost an item, the places its items had as written, by the list's path.
    """
    rest = copy.deepcopy(data)
    kept: dict[str, list[int]] = {}
    lost: dict[tuple[int | str, ...], None] = {}
    for location in locations:
        ends = [depth for depth, step in enumerate(location) if isinstance(step, int)]
        lost[location[: ends[0] + 1] if ends else location] = None
    # The later items of a list go first, so that the places of the earlier ones still hold.
    for location in sorted(lost, key=lambda each: [str(step).zfill(9) for step in each], reverse=True):
        *way, last = location
        place: Any = rest
        for step in way:
            place = place.get(step) if isinstance(place, dict) else None
        if isinstance(place, list) and isinstance(last, int):
            path = ".".join(map(str, way))
            kept.setdefault(path, list(range(len(place)))).pop(last)
            place.pop(last)
        elif isinstance(place, dict):
            place.pop(last, None)
    return rest, kept


def _as_written(path: str, kept: dict[str, list[int]]) -> str:
    found = re.match(r"([a-z_.]+)\[(\d+)\]", path)
    if found is None or found[1] not in kept:
        return path
    return f"{found[1]}[{kept[found[1]][int(found[2])]}]{path[found.end() :]}"


def write_case(facts: CaseFacts) -> bytes:
    """The case file of ``facts``: UTF-8 JSON with sorted keys, readable back to the same facts."""
    return (json.dumps(case_data(facts), indent=1, sort_keys=True, ensure_ascii=False) + "\n").encode()


def case_data(facts: CaseFacts) -> dict[str, Any]:
    """The facts as JSON values, teeth in the numbering they declare; what nobody recorded is left out."""
    data: dict[str, Any] = facts.model_dump(
        mode="json", context={"numbering": facts.numbering}, exclude_defaults=True, exclude_none=True
    )
    return {"format": FORMAT, "version": 1, "numbering": facts.numbering.value} | data


def case_schema() -> dict[str, Any]:
    """The JSON Schema of a case file, as published in ``docs/case.schema.json``."""
    schema = CaseFacts.model_json_schema()
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "Leastways case file, version 1"
    schema["required"] = sorted({*schema["required"], "format", "version", "numbering"})
    return schema


def parse_case(content: bytes) -> object:
    """The JSON values in ``content``, numbers as decimals. Raises CaseFileError when it is no such text."""
    if len(content) > LARGEST_BYTES:
        raise CaseFileError(
            [
                Fault(
                    "",
                    f"The file has {len(content):,} bytes; a case file has {LARGEST_BYTES:,} at most. "
                    "Pictures do not belong in it, only what was read in them.",
                )
            ]
        )
    if not content.strip():
        raise CaseFileError([Fault("", "The file is empty. " + _begin())])
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise CaseFileError(
            [Fault("", f"The file is not UTF-8 text (byte {error.start}). Save it as UTF-8.")]
        ) from None
    try:
        return json_values(text)
    except UnreadableError as error:
        raise CaseFileError([Fault("", f"{error} {_begin()}")]) from None


def _begin() -> str:
    return f'A case file begins {{"format": "{FORMAT}", "version": 1, "numbering": "iso", ...}}.'


def _head_faults(data: dict[str, Any]) -> Iterable[Fault]:
    kind = data.get("format")
    if kind != FORMAT:
        yield Fault("format", f'{kind!r} is not a format read here: it must be "{FORMAT}".')
    version = data.get("version")
    if isinstance(version, bool) or version not in VERSIONS:
        known = ", ".join(map(str, VERSIONS))
        yield Fault("version", f"Version {version!r} is not known to this program: it reads version {known}.")
    numbering = data.get("numbering")
    systems = [system.value for system in Numbering]
    if numbering not in systems:
        yield Fault(
            "numbering",
            f"{numbering!r} is not a tooth numbering: say which one this file uses, one of {', '.join(systems)}. "
            "A tooth number without its system can mean two different teeth.",
        )
