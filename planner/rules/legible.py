"""How large type has to be to be read from a distance: a capital letter is to be seen under a given angle."""

from math import ceil, radians, tan

from planner.rules.settings import read_settings

POINTS_PER_MM = 72 / 25.4


def points_at(distance_mm: int, arc_minutes: int, capital_permille: int) -> float:
    """Type size in points, up to the next half, whose capitals are seen under ``arc_minutes`` at ``distance_mm``.

    ``capital_permille`` is the height of a capital in thousandths of the type size. The height of what is seen under an
    angle is twice the distance times the tangent of half the angle. Raises ValueError for what is not above 0.
    """
    if min(distance_mm, arc_minutes, capital_permille) <= 0:
        raise ValueError(f"{distance_mm} mm, {arc_minutes} arc minutes, {capital_permille}: each must be above 0")
    capital = 2 * distance_mm * tan(radians(arc_minutes / 60) / 2)
    return ceil(round(capital * 1000 / capital_permille * POINTS_PER_MM * 2, 6)) / 2


def sheet_points() -> float:
    """Type size of a step sheet's lines, points, for the settings of ``data/step_sheet.toml``."""
    known = read_settings("step_sheet.toml")
    return points_at(
        known["reading_distance_mm"].value, known["capital_arc_minutes"].value, known["capital_permille"].value
    )
