"""A small field of signs that shows how many of 100 (or of 1,000): the whole and the part, always the same grid.

Filled from one corner. What surely happens is a full square, what happens only at the upper end of a range a half
square, the rest a thin line, so that it reads in black and white; the title is the text alternative. Signs are drawn as
dashes of a few lines instead of one by one: a letter holds dozens of these fields.
"""

from xml.sax.saxutils import escape, quoteattr

_PITCH_MM = {100: 1.2, 1000: 0.48}
_COLUMNS = {100: 20, 1000: 50}
_DASH = 0.72
"""Share of its place that a sign fills."""
_FULL, _HALF, _THIN = 1.0, 0.5, 0.16
"""Height of a sign, as a share of its width."""


def icon_array(low: int, high: int, of: int, prefix: str, alternative: str) -> str:
    """``low`` to ``high`` of ``of`` (100 or 1,000) as an SVG, 24 mm wide: 20 signs in a row for 100, 50 for 1,000.

    Wide and low, so that it stands beside its sentence without leaving air. ``alternative`` says it in words. Raises
    KeyError for another denominator.
    """
    pitch, columns = _PITCH_MM[of], _COLUMNS[of]
    width, height = pitch * columns, pitch * (of // columns)
    parts = "".join(
        _run(start, end, columns, pitch, tall)
        for start, end, tall in (
            (0, low, _FULL),
            (low, high, _HALF),
            (high, of, _THIN),
        )
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" class="icons" role="img" '
        f"aria-labelledby={quoteattr(prefix + '-title')} "
        f'viewBox="0 0 {_n(width)} {_n(height)}" width="{_n(width)}mm" height="{_n(height)}mm">'
        f"<title id={quoteattr(prefix + '-title')}>{escape(alternative)}</title>{parts}</svg>"
    )


def _run(start: int, end: int, columns: int, pitch: float, tall: float) -> str:
    """Signs number ``start`` up to ``end`` as dashed lines, one for each row they lie in."""
    if start == end:
        return ""
    side, gap = pitch * _DASH, pitch * (1 - _DASH)
    d = ""
    for row in range(start // columns, (end - 1) // columns + 1):
        first, last = max(start - row * columns, 0), min(end - row * columns, columns)
        y = row * pitch + gap / 2 + side * (1 - tall / 2)
        d += f"M{_n(first * pitch + gap / 2)} {_n(y)}H{_n(last * pitch - gap / 2)}"
    dashes = f'stroke-dasharray="{_n(side)} {_n(gap)}"'
    return f'<path d="{d}" fill="none" stroke="#1a1a1a" stroke-width="{_n(side * tall)}" {dashes}/>'


def _n(value: float) -> str:
    return f"{value:.3f}".rstrip("0").rstrip(".") or "0"
