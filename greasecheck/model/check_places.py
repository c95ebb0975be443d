"""Where in a photo the cause of a failed check lies; by the check's name, as its words are."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from greasecheck.model import Check


class Place(StrEnum):
    """A part of what a photo shows; `greasecheck.words.photos.places` has the words."""

    CHART = "chart"
    TAG = "tag"
    PATCHES = "patches"
    PAPER = "paper"
    JAR = "jar"
    WET_BARS = "wet_bars"
    DRY_BARS = "dry_bars"
    GLASS = "glass"
    CONTRAST_LADDER = "contrast_ladder"
    REST = "rest"
    BONE = "bone"
    DIP_LADDER = "dip_ladder"


# Names of errors that ended a step stand among those of checks.
CHECKS_AT = {
    Place.CHART: """colour sheet_px_per_mm tilt_deg paper_level clipped_share light_gradient_ratio
        hue_misfit hue_slope card_px_per_mm card_tilt_deg""",
    Place.TAG: "tub_tag_seen tub_tag_seen/card tag_to_sheet_scale_error",
    Place.PATCHES: """twin_patches_apart patches_left_out loo_delta_e00 loo_delta_e00_change
        colour_lost_at_edges""",
    Place.PAPER: "light_misfit paper_light_change bone_light_yi_std/paper",
    Place.JAR: """water jar_filled bars_above_water_mm bar_displacement_mm jar_depth_error
        shadow_on_jar light_ratio_change jar_light_change bar_shift_by_water_mm path_by_bars
        lamp_elevation_deg""",
    Place.WET_BARS: """fine_edges_behind_jar bar_contrast_hole bar_contrast_grain
        sight_clipped_share sight_used_share sight_unevenness water_model_misfit_std
        fine_coarse_disagreement_std fine_bars_seen_with_coarse coarse_bars_seen_with_fine
        left_bars_bare below_clear_water_std white_gain_by_water bright_depth_of_bars
        bar_contrast_lean bar_contrast_step bars_brightened_std clear_contrast_ratio
        veil_of_clear_water light_under_surface""",
    Place.DRY_BARS: """fine_bar_modulation dry_bars_light_change dry_black_change
        glass_change/bare""",
    Place.GLASS: "glass_change glass_modulation edge_of_veil",
    Place.CONTRAST_LADDER: """faint_contrast_gain faint_fine_contrast_loss dark_areas_lift
        paper_lift_by_surroundings""",
    Place.REST: "hue_of_rest light_on_rest",
    Place.BONE: """bone reddish_share_of_bone bone_yi_least square_corners_of_bone
        straight_edge_of_bone bone_piece_fills_rectangle square_corners_of_one_colour
        one_colour_fills_rectangle bone_area_to_earlier bone_yi_from_earlier clipped_share_of_bone
        bone_light_yi_std light_in_shadow yellow_share_std dark_share_of_bone brown_share
        pieces_like_skulls smaller_piece_fills_hull bright_runs_at_rim
        hidden_by_cloth""",
    Place.DIP_LADDER: """waterline_seen haze_seen stripes_in_picture ladder_tag_once ladder_markers
        ladder_marker_misfit_px stripe_px view_from_upright_deg view_from_upright_deg_most
        view_from_the_side_deg dry_white_light clipped_share/ladder colourless_share
        colour_detail dry_stripes_sharpness dry_contrast dry_veil contrast_step black_shift
        fields_step faint_fading_ratio strong_over_faint_edges grey_misfit wing_light_ratio
        first_bars_contrast dry_stripes_mm marks_misfit_mm surface_apart_mm coarse_aside_mm
        bent_stripes_mm lean_deg uneven_share decay_misfit""",
}
# What lies in the camera, in the logbook or in two places, or where nothing was found.
NO_PLACE = """photo sheet data time_from_camera before_tub_start_h jar_or_bone_seen
    clear_water_reference reference_camera reference_camera/unknown white_balance_change
    saturation_change fine_edges_over_dry"""
NOWHERE = frozenset(NO_PLACE.split())
PLACES = {name: place for place, names in CHECKS_AT.items() for name in names.split()}


def place_of(check: Check) -> Place | None:
    """Return where a check's cause lies; None where no place of the photo shows it.

    Examples
    --------
    >>> from greasecheck.model import Check
    >>> place_of(Check(name="jar_filled", value=None, limit=1.0, passed=False, hard=True))
    <Place.JAR: 'jar'>
    """
    return PLACES.get(f"{check.name}/{check.note}") or PLACES.get(check.name)
