"""From a rig to everything that `train` answers."""

from __future__ import annotations

from guidestar.errors import InputError
from guidestar.flat.result import Body, Sensor
from guidestar.rig import Rig
from guidestar.train import depth, pieces
from guidestar.train import focus as focusing
from guidestar.train.result import TrainResult


def train(
    rig: Rig,
    *,
    ray_exact: bool = False,
    order: str | None = None,
    allowed_loss: float = 0.0,
    clear_share: float = 1.0,
) -> TrainResult:
    """Work out spacing, focus, prism depth and shadow of a rig's imaging train.

    Parameters
    ----------
    rig : Rig
        With a [train] section.
    ray_exact : bool
        Glass shifts for the outermost ray of the rig's beam instead of rays near the axis.
    order : str, optional
        Another order of the parts, their names with commas, "spacer" among them if it matters where that goes. The
        prism's distance then follows from the parts.
    allowed_loss, clear_share : float
        See `guidestar.train.depth.window`.

    Raises
    ------
    InputError
        No [train] section, an order that does not name every part once, or one that leaves the rig impossible.
    """
    parts_table = pieces.require_train(rig)
    _demand_shares(allowed_loss, clear_share)
    parts, spacer_place = pieces.ordered_parts(parts_table, order)
    spacing = pieces.spacing(rig, parts, spacer_place, ray_exact=ray_exact)
    if order is not None:
        ahead = pieces.prism_ahead_mm(spacing.pieces)
        rig = rig if ahead is None else rig.with_values({"prism.ahead_mm": ahead}, where="--order")
    place = pieces.filter_place(parts_table, parts)
    focus = focusing.guide_focus(rig, rig.prism.ahead_mm, place, ray_exact=ray_exact)
    out_of_reach = focus.in_travel is False
    # On the prism's offset the answer itself says more, and in another order its distance follows from the parts.
    needless = ("prism.offset_mm:",) if order is None else ("prism.offset_mm:", "prism.ahead_mm:")
    warnings = [text for text in rig.warnings if not text.startswith(needless)]
    return TrainResult(
        rig=rig,
        spacing=spacing,
        filter=place,
        focus=focus,
        spacer_behind=focusing.spacer_behind(rig, spacing, focus, place),
        better_order=focusing.better_order(rig, spacing) if out_of_reach else None,
        window=depth.window(rig, allowed_loss=allowed_loss, clear_share=clear_share),
        shadow=depth.shadow(rig),
        warnings=(*warnings, *pieces.broken_order_rules(parts_table, parts)),
    )


def _demand_shares(allowed_loss: float, clear_share: float) -> None:
    if not 0.0 <= allowed_loss < 1.0:
        raise InputError(f"--allow-shadow {100 * allowed_loss:g}: must be from 0 to less than 100 per cent.")
    if not 0.0 < clear_share <= 1.0:
        raise InputError(f"--clear-share {100 * clear_share:g}: must be more than 0 and at most 100 per cent.")


def flat_sensor(rig: Rig) -> Sensor:
    """Return what the analysis of a flat needs to know of a rig: the sensor, and what stands in its light."""
    known, prism, camera = depth.Depth.of(rig), rig.prism, rig.camera
    footprint = known.footprint
    body = Body(
        scale=footprint.scale,
        beam_mm=footprint.radius_mm,
        hole=footprint.obstruction_ratio,
        width_mm=known.body.width_mm,
        height_mm=prism.height_mm,
        offset_mm=prism.offset_mm,
    )
    return Sensor(camera.width_mm, camera.height_mm, camera.pixel_um, prism.side_deg, body)
