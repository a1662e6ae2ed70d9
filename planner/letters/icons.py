"""A small field of signs that shows how many of 100 (or of 1,000): the whole and the part, always the same grid.

Filled from one corner. What surely happens is filled black, what happens only at the upper end of a range is half
filled, the rest is outlined, so that it reads in black and white; the title is the text alternative.
"""

from xml.sax.saxutils import escape, quoteattr

from planner.letters.wording import Shares

_SIDE_MM = 20.0


def icon_array(shares: Shares, prefix: str, alternative: str) -> str:
    """The field as an SVG of 20 by 20 mm. ``alternative`` says in words what it shows."""
    columns = 10 if shares.of == 100 else 40
    step = _SIDE_MM / columns
    side = step * 0.72
    filled, half, empty = [], [], []
    for index in range(shares.of):
        x, y = (index % columns) * step + step * 0.14, (index // columns) * step + step * 0.14
        (filled if index < shares.low else half if index < shares.high else empty).append((x, y))
    rows = -(-shares.of // columns)
    height = rows * step
    title = f"<title id={quoteattr(prefix + '-title')}>{escape(alternative)}</title>"
    squares = "".join(f"M{_n(x)} {_n(y)}h{_n(side)}v{_n(side)}h-{_n(side)}z" for x, y in filled)
    outlined = "".join(f"M{_n(x)} {_n(y)}h{_n(side)}v{_n(side)}h-{_n(side)}z" for x, y in empty + half)
    triangles = "".join(f"M{_n(x)} {_n(y + side)}h{_n(side)}v-{_n(side)}z" for x, y in half)
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="icons" role="img" '
        f"aria-labelledby={quoteattr(prefix + '-title')} "
        f'viewBox="0 0 {_n(_SIDE_MM)} {_n(height)}" width="{_n(_SIDE_MM)}mm" height="{_n(height)}mm">{title}'
        + (f'<path d="{squares}" fill="#1a1a1a"/>' if squares else "")
        + (f'<path d="{triangles}" fill="#1a1a1a"/>' if triangles else "")
        + (f'<path d="{outlined}" fill="none" stroke="#6a6a6a" stroke-width="{_n(step * 0.06)}"/>' if outlined else "")
        + "</svg>"
    )


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".") or "0"
