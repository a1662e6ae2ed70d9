"""Front teeth as they look in a photograph: apparent widths and the published proportions between them.

What a caliper reads on the tooth and what a photograph shows from the front are two different things, because the
arch turns away: a lateral is about 79 % of its central by caliper and about 66 % from the front. They are kept apart in
type; nothing here is compared with, or turned into, a caliper width (see :mod:`planner.rules.proportions`).
"""

from dataclasses import dataclass
from decimal import Decimal

from planner.rules.settings import Setting, read_settings

_HALF = Decimal(50)


def _setting(name: str) -> Setting:
    return read_settings("proportions.toml")[name]


@dataclass(frozen=True, slots=True, order=True)
class FrontalWidth:
    """An apparent width in a photograph from the front, true-scale millimetres. Raises ValueError unless above 0."""

    mm: Decimal

    def __post_init__(self) -> None:
        if not isinstance(self.mm, Decimal) or not self.mm.is_finite() or self.mm <= 0:
            raise ValueError(f"frontal width is {self.mm!r}: it must be a decimal number of millimetres above 0")


@dataclass(frozen=True, slots=True)
class FrontalWidths:
    """What one scheme gives for the three front teeth of one side; together half the intercanine width."""

    scheme: str
    central: FrontalWidth
    lateral: FrontalWidth
    canine: FrontalWidth
    source: str
    certainty: str
    adds_to: Decimal | None = None
    """For a scheme of shares that does not add to 50 %: what it adds to. The widths are brought to 50 %."""

    def central_length(self, ratio_percent: Decimal | None = None) -> Decimal:
        """Central length (mm) at which its frontal width is ``ratio_percent`` of it, by default the set ratio."""
        ratio = Decimal(_setting("frontal_length_ratio").value) if ratio_percent is None else ratio_percent
        return self.central.mm * 100 / ratio


def recurring_proportion(intercanine: FrontalWidth, percent: Decimal | int | None = None) -> FrontalWidths:
    """Frontal widths when each tooth looks ``percent`` as wide as the one before it, from the midline outwards.

    ``intercanine`` is the frontal width between the outer edges of both canines. central = width / (2 (1 + r + r r)).
    Raises ValueError outside the published range of 62 to 80 %. Without ``percent`` the set default is taken.
    """
    low, high = _setting("recurring_range").value
    setting = _setting("recurring_default")
    ratio = Decimal(setting.value if percent is None else percent)
    if not low <= ratio <= high:
        raise ValueError(f"recurring proportion is {ratio} %: the published range is {low} to {high} %")
    return _from_ratios(f"recurring {ratio} %", intercanine, ratio, ratio, _setting("recurring_range"))


def recurring_for_height(intercanine: FrontalWidth, height: str) -> FrontalWidths:
    """The recurring proportion by how tall the teeth look: "very tall", "tall", "normal", "short" or "very short".

    Raises ValueError for another word.
    """
    setting = _setting("recurring_by_height")
    if height not in setting.value:
        raise ValueError(f'height is "{height}": it must be one of {", ".join(setting.value)}')
    ratio = Decimal(setting.value[height])
    return _from_ratios(f"recurring {ratio} %, {height} teeth", intercanine, ratio, ratio, setting)


def scheme_names() -> tuple[str, ...]:
    """The named schemes that :func:`frontal_scheme` knows."""
    return (*_setting("frontal_ratios").value, *_setting("frontal_shares").value)


def frontal_scheme(intercanine: FrontalWidth, name: str) -> FrontalWidths:
    """Frontal widths by a named published scheme (see :func:`scheme_names`). Raises ValueError for another name."""
    ratios, shares = _setting("frontal_ratios"), _setting("frontal_shares")
    if name in ratios.value:
        first, second = (Decimal(ratio) for ratio in ratios.value[name])
        return _from_ratios(name, intercanine, first, second, ratios)
    if name in shares.value:
        central, lateral, canine = (Decimal(share) for share in shares.value[name])
        return percentage_shares(intercanine, central, lateral, canine, name=name)
    raise ValueError(f'scheme is "{name}": it must be one of {", ".join(scheme_names())}')


def percentage_shares(
    intercanine: FrontalWidth, central: Decimal, lateral: Decimal, canine: Decimal, *, name: str = "own shares"
) -> FrontalWidths:
    """Frontal widths from shares of the intercanine width in percent, one side.

    The three must add to 50, being one half; where they do not, all are scaled so that they do and ``adds_to`` says
    what they added to. Raises ValueError when a share is not above 0.
    """
    if min(central, lateral, canine) <= 0:
        raise ValueError(f"shares are {central}, {lateral} and {canine} %: each must be above 0")
    total = central + lateral + canine
    setting = _setting("frontal_shares")
    known = name in setting.value
    to_mm = intercanine.mm * _HALF / (total * 100)
    return FrontalWidths(
        name,
        FrontalWidth(central * to_mm),
        FrontalWidth(lateral * to_mm),
        FrontalWidth(canine * to_mm),
        source=setting.source if known else "set by the dentist",
        certainty=setting.certainty if known else "office",
        adds_to=None if total == _HALF else total,
    )


def _from_ratios(
    scheme: str, intercanine: FrontalWidth, lateral_percent: Decimal, canine_percent: Decimal, setting: Setting
) -> FrontalWidths:
    lateral = lateral_percent / 100
    canine = lateral * canine_percent / 100
    central_mm = intercanine.mm / (2 * (1 + lateral + canine))
    return FrontalWidths(
        scheme,
        FrontalWidth(central_mm),
        FrontalWidth(central_mm * lateral),
        FrontalWidth(central_mm * canine),
        source=setting.source,
        certainty=setting.certainty,
    )
