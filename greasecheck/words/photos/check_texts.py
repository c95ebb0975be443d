"""What each failed check of a photo means, and what to do about it; by the check's name.

Where a name has several cases, the case follows after a stroke. `{note}` and `{value}` are those of
the check.
"""

from __future__ import annotations

OF_SEVERAL_HUES = (
    "lamps of different colours light the paper, or it is stained: switch off all but one, shut "
    "out the daylight, print stained paper anew, give the photo as the camera took it, not as a "
    "messenger made it small"
)
STRAIGHT_EDGED = (
    "something straight-edged lies on the bone or beside it, such as a card or a strip of wood: "
    "take it away, or log the reading when it is bone all the same"
)
CARD_ON_BONE = (
    "a card, a strip of wood or the like seems to lie on the bone: take it away, or log the "
    "reading when it is bone all the same"
)
STEAM = "steam, a wet or dirty lens, or light in the lens: wait until the air is clear"
THE_PHOTO_AND_SHEET = {
    "time_from_camera": "the photo carries no time, so the file's was taken: copy it as the camera"
    " saved it, not by a messenger",
    "tub_tag_seen": "no tub tag is in the slot: hang it there, or name the tub",
    "tub_tag_seen/card": "no tag lies in the card's slot: lay the skull's or its tub's there, or "
    "name the tub",
    "before_tub_start_h": "taken before the first day of tub {note}: enter its earlier baths, or "
    "correct the camera's clock",
    "sheet_px_per_mm": "the sheet is too small in the picture: go closer or use more pixels",
    "tilt_deg": "the camera looks at the sheet from the side: face it squarely",
    "tag_to_sheet_scale_error": "tag and sheet are printed at different scales: print both at 100 "
    "% and check the ruler",
    "paper_level": "the picture is too dark: add light or expose longer",
    "clipped_share": "parts are burnt out or black: change the exposure, move the lamp to avoid "
    "glare",
    "light_gradient_ratio": "the light is uneven over the sheet: move the lamp back or to the "
    "front, switch off HDR",
    "light_misfit": "a shadow, a fold or a wet spot lies on the sheet: move the lamp, flatten, "
    "dry it",
    "twin_patches_apart": "patches printed twice differ from side to side: a fold, a shadow, glare "
    "or a wet spot lies on one of them, or one has faded; where every photo says so, switch off "
    "HDR and filters",
    "hue_misfit": OF_SEVERAL_HUES,
    "hue_slope": "the light is of one colour on the left and of another on the right: use one lamp",
    "patches_left_out": "patches are hidden, shaded, glaring, smudged or faded: clear the view, "
    "move the lamp, clean the sheet or print it anew",
    "loo_delta_e00": "the colours do not fit the sheet: remove coloured light, switch off filters, "
    "a black-and-white one among them, clean the sheet, or print it anew, in colour",
}
WATER = {
    "fine_bar_modulation": "the sheet is blurred: focus on it, hold the camera still, wipe the "
    "lens",
    "fine_edges_behind_jar": "the bars behind the jar have blurred edges, as smear or mist on its "
    "glass makes them, water that stands far too low, or a camera that smooths: fill the jar to "
    "the line, wipe it dry and clean, switch off filters and noise reduction, and take the photo "
    "again",
    "fine_edges_over_dry": "the bars behind the jar have sharper edges than the bare ones, as no "
    "water makes them: wipe the lens, clean the bare bars, and give the photo as the camera took "
    "it, no part of it blurred or sharpened",
    "bar_contrast_hole": "the bars behind the jar are faint in one spot, as behind a drop on the "
    "lens or the glass: wipe the lens, then the jar, and take the photo again",
    "bar_contrast_grain": "the bars behind the jar are faint in small spots, as behind drops, mist "
    "or dirt on its glass or bubbles on its walls: let bubbles rise, wipe the jar dry",
    "colour_lost_at_edges": "the camera smears colours: add light, switch off night mode, noise "
    "reduction and filters, or use a plain camera app",
    "sight_clipped_share": "the bars behind the jar are burnt out or black: remove the glare, "
    "change the exposure, switch off sharpening and vivid modes",
    "sight_used_share": "foam, bubbles or drops hide the bars: let it settle, wipe the jar, fill "
    "it to the line",
    "sight_unevenness": "foam, bubbles or drops stand before the bars: let them settle, or skim "
    "them off, stir, and wipe the jar",
    "water_model_misfit_std": "bars, veil and colours tell of no one water: let foam settle, "
    "stir, wipe the jar, keep shadows off it",
    "fine_coarse_disagreement_std": "fine and coarse bars tell of different waters: let foam "
    "settle, stir, wipe the jar",
    "fine_bars_seen_with_coarse": "only the coarse bars are seen: look for foam; dilute the water "
    "and say how much",
    "coarse_bars_seen_with_fine": "the fine bars are seen better than the coarse ones: look for "
    "foam, glare and drops",
    "left_bars_bare": "something covers a part of the left bars: put the jar before all of them, "
    "or away",
    "bars_above_water_mm": "the water in the jar stands so low that bars are seen above it: fill "
    "it to the line",
    "jar_filled": "the jar is empty: fill it to the line",
    "jar_or_bone_seen": "neither a jar before the sight nor a bone on the rest: put one there",
}
AGAINST_THE_REFERENCE = {
    "clear_water_reference": "there is no clear-water reference: photograph the jar with clean "
    "water and make the reference of it",
    "reference_camera": "the clear-water reference was made with {note}: make one with this camera",
    "reference_camera/unknown": "the photo, or that of the clear-water reference, does not name "
    "its camera, as a messenger's or an editor's copy does not: give both as the camera saved them",
    "bar_displacement_mm": "the jar does not stand where it stood for the clear-water reference: "
    "put it square before the sight, or make a new reference",
    "jar_depth_error": "the water shifts the bars as in a jar of another depth, or the picture was "
    "cropped, framed or zoomed, a screenshot for one, or the sheet bends: give the photo as the "
    "camera took it, flatten the sheet, use the jar of the clear-water reference, or make a new "
    "one",
    "below_clear_water_std": "the water looks clearer than the reference: fill the jar; or its "
    "photo was shaded or not clean: make a new reference",
    "dry_bars_light_change": "the dry bars are lit otherwise than for the clear-water reference: "
    "keep shadows and fingers off them, or make a new reference",
    "dry_black_change": "the black bars are not as black as for the clear-water reference: remove "
    "glare, switch off sharpening and HDR, add light",
    "shadow_on_jar": "the bars behind the jar are darker than milky or brown water makes them: "
    "keep shadows off the jar, wipe it",
    "white_gain_by_water": "the bars behind the jar are brighter than behind clear water: remove "
    "glare and foam; where every photo says so, something shaded the reference: make a new one",
    "bright_depth_of_bars": "the bars behind the jar are brighter than milky water makes them: "
    "let foam settle, wipe mist off the jar, remove glare; where every photo says so, something "
    "shaded the reference: make a new one",
    "bar_contrast_step": "a rubber band, a line of scum or the like crosses the fine bars behind "
    "the jar, or the sheet bends there: take it off, wipe the jar, flatten the sheet",
    "bar_contrast_lean": "the bars are clearer on one side than on the other: keep shadows and "
    "foam off them, stir the water",
    "paper_light_change": "the sheet is lit or shaded otherwise than for the clear-water "
    "reference: remove shadows, flatten and dry the sheet, or make a new reference",
    "light_ratio_change": "the light falls on jar and dry bars otherwise than for the clear-water "
    "reference: put the lamp back, or make a new reference",
    "jar_light_change": "a shadow or a reflection falls on the jar or beside it: step back, keep "
    "hands and bright things away, or make a new reference",
    "bars_brightened_std": "the bars behind the jar are brighter than this water can make them: "
    "keep reflections and other lamps off the jar; where every photo says so, something shaded the "
    "reference: make a new one",
    "loo_delta_e00_change": "the sheet's colours fit worse than in the clear-water reference: it "
    "has faded, or is wet, dirty or glaring",
    "white_balance_change": "the white balance is not that of the clear-water reference: fix it "
    "in the camera, or make a new reference",
    "saturation_change": "colours are more or less vivid than in the clear-water reference: switch "
    "off vivid modes, filters and what an app changes, or make a new reference",
    "edge_of_veil": "a veil lies on the lower part of the jar alone, or its water stands far too "
    "low: fill it to the line, wipe the jar and the lens, keep reflections off the jar",
    "glass_change": "the jar's glass is not as clear as for the clear-water reference, or mirrors "
    "something: wipe the jar, keep reflections off it",
    "glass_change/bare": "the bare bars beside the jar are fainter than for the clear-water "
    "reference: wipe the lens, clean them, keep glare off them; where every photo says so, the jar "
    "of the reference was not clean: make a new one",
    "faint_contrast_gain": "the camera lifts or smooths faint contrast: switch off HDR, tone "
    "mapping, filters and night mode, or use a plain camera app",
    "faint_fine_contrast_loss": "the camera smooths away fine faint detail: add light, switch off "
    "noise reduction",
    "dark_areas_lift": "the camera lifts dark areas or darkens bright ones, or its lens is misted: "
    "wipe it, switch off HDR, tone mapping and filters, or use a plain camera app",
    "paper_lift_by_surroundings": "the camera evens out light and dark over wide areas: switch off "
    "HDR, tone mapping and filters, or use a plain camera app",
}
BONE = {
    "reddish_share_of_bone": "something as red as skin or blood lies on the bone or beside it, or "
    "lights it: take hands and red things away, wash the bone",
    "bone_yi_least": "the bone or a part of it looks bluer than white, as no bone is: light chart "
    "and bone by one lamp alone, and see that nothing else was taken for bone",
    "hue_of_rest": "the dark rest is of another hue than it was, or than black: light sheet and "
    "bone by one lamp alone; after new felt make a new clear-water reference",
    "light_on_rest": "the dark rest is lit more than it was, and the sheet is not: switch off the "
    "second lamp; after new felt make a new clear-water reference",
    "square_corners_of_bone": STRAIGHT_EDGED,
    "straight_edge_of_bone": STRAIGHT_EDGED,
    "bone_piece_fills_rectangle": STRAIGHT_EDGED,
    "smaller_piece_fills_hull": "something round and without hollows, such as a stone, a fruit or "
    "a coin, lies beside the bone: take it away, or leave it out, or log the reading when it is "
    "bone all the same",
    "square_corners_of_one_colour": CARD_ON_BONE,
    "one_colour_fills_rectangle": CARD_ON_BONE,
    "bone_area_to_earlier": "the bone seems {value:.1f} times as large as before: take away what "
    "is no bone, or name the skull",
    "bone_yi_from_earlier": "the bone is {value:.0f} yellower or paler than before: is it the "
    "same bone, is all of it bone?",
    "card_px_per_mm": "the card is too small in the picture: go closer or use more pixels",
    "card_tilt_deg": "the camera looks at the card from the side: look down on it more squarely",
    "clipped_share_of_bone": "parts of the bone are burnt out or black: change the exposure, "
    "soften the light",
    "bone_light_yi_std": "the light on the bone differs from that on the card, a sleeve covers it, "
    "or a filter changed the dark colours: light both by one lamp alone, softly, lay the card "
    "close by, bare, and give the photo as the camera took it",
    "bone_light_yi_std/paper": OF_SEVERAL_HUES,
    "light_in_shadow": "one hard lamp leaves a side of the bone in the dark: soften the light, or "
    "hold white paper opposite the lamp",
    "yellow_share_std": "much of the bone is about as yellow as what counts as a patch, so that "
    "their share is known within {value:.0%} only: go by its yellowness",
    "dark_share_of_bone": "much of what was taken for bone is as dark as the cloth: a second lamp "
    "lights the cloth around it, or one leaves a side in the dark: use one soft lamp, or draw the "
    "outline",
    "brown_share": "a part as dark and brown as antler, horn or dried tissue was left out: look "
    "at the outline, take it in again if it is bone",
    "bright_runs_at_rim": "the cloth has a pattern, or bright things lie all around: lay bone and "
    "card on plain dark cloth, or draw the outline",
    "hidden_by_cloth": "the ground is so uneven that shaded bone is lost in it: lay bone and card "
    "on plain dark cloth, smoothed out, not on wood, grass or a fine pattern, or draw the outline",
    "pieces_like_skulls": "there are two pieces as large as skulls: photograph one skull at a "
    "time, or leave the others out",
}
CLEAR_WATER = {
    "bar_shift_by_water_mm": "the bars are not shifted as water shifts them: fill the jar to the "
    "line and put it before the sight",
    "clear_contrast_ratio": "the water or the jar is not clear: use clean tap water, wipe the jar",
    "veil_of_clear_water": "the bars behind the jar are veiled as by murky water, or by the "
    "image of a lamp or window in its glass: fill it with clean tap water, never a bath, wipe it, "
    "and move what it mirrors",
    "path_by_bars": "the water shifts the bars as in a jar about {note} mm deep, or the picture "
    "was cropped or zoomed: give the photo as the camera took it, measure the jar's inner depth "
    "along the line of sight, and make the reference again if you said another one",
    "lamp_elevation_deg": "the lamp stands too high, so that the water's surface shades the bars: "
    "lower the lamp or bring it to the front, 20 to 60 degrees above the jar",
    "light_under_surface": "no lamp's shadow lies under the water line: light the stand with one "
    "lamp before it, 20 to 60 degrees above the jar, and shut out other light",
    "glass_modulation": "smear, mist or the image of a lamp lies on the jar's glass: wipe the "
    "jar, then move the lamp higher or aside until the glass mirrors nothing",
}
LADDERS = {
    "waterline_seen": "the stripes are not seen where water would show them: it is too murky for "
    "the ladder (use the jar, diluted), they are covered, the plate hangs above the water, or the "
    "picture is torn (take one single photo)",
    "haze_seen": "the stripes are not seen in the water: it is too murky for the ladder (use the "
    "jar, diluted), or they are covered, or the plate hangs above the water",
    "stripes_in_picture": "the stripes are cut off: take the whole ladder",
    "ladder_tag_once": "two ladders of one photo have the same tag: each tub needs its own",
    "ladder_markers": "a marker of the ladder is hidden or cut off: clear the view of its wings",
    "ladder_marker_misfit_px": "the ladder's wings are bent or the picture is distorted: flatten "
    "the plate",
    "stripe_px": "the ladder is too small in the picture: go closer, or use more pixels",
    "view_from_upright_deg": "seen too steeply from above: step back, 30 to 45 degrees from "
    "straight down are best",
    "view_from_upright_deg_most": "seen too flat over the water: raise the camera, 30 to 45 "
    "degrees are best",
    "view_from_the_side_deg": "seen too much from the side: stand before the ladder; fewer tubs "
    "in one photo",
    "dry_white_light": "the picture is too dark: more light, from above the tub",
    "clipped_share/ladder": "glare or overexposure: no lamp or window may mirror on the stripes; "
    "expose less",
    "colourless_share": "the picture has no colour, and the haze is told in red light: switch off "
    "infrared light, night mode and filters, leave a white light on",
    "colour_detail": "the camera smears colours: switch off night mode and noise reduction, add "
    "light",
    "dry_stripes_sharpness": "the picture is blurred: hold still, tap on the ladder to focus",
    "dry_contrast": STEAM,
    "dry_veil": STEAM,
    "contrast_step": "the contrast drops at one depth: the edge of a shadow, a bone or a cloth "
    "over it, or a part of the picture is lost",
    "black_shift": "the camera changes tones by their surroundings: switch off HDR and night mode",
    "fields_step": "3 and 8 mm stripes fade unlike: a bone or a cloth before one of them, waves, "
    "or a camera that smooths: switch off noise reduction, add light",
    "faint_fading_ratio": "the camera smooths faint stripes away: switch off noise reduction and "
    "night mode, add light",
    "strong_over_faint_edges": "the camera blurs faint stripes: switch off noise reduction and "
    "night mode, add light",
    "grey_misfit": "the greys do not fit each other: shadow on the wings, or dirt; wipe the dry "
    "part",
    "wing_light_ratio": "the two wings are lit unlike: a shadow or a lamp close by; move the light",
    "dry_stripes_mm": "the water has fallen below the stripes: top it up, or hang the ladder lower",
    "marks_misfit_mm": "the water moves or the plate leans: wait until it is still, hang the "
    "plate upright",
    "surface_apart_mm": "the water is seen elsewhere than the stripes put it: the picture is torn "
    "or put together; take one single photo, with the camera still",
    "coarse_aside_mm": "the stripes are seen beside their place on the plate: the picture is torn "
    "or put together; take one single photo, with the camera still",
    "bent_stripes_mm": "the stripes are bent: the water moves; wait until it is still",
    "lean_deg": "the plate does not hang upright: put its weight on, free it from the wall",
    "uneven_share": "something lies over the stripes: foam, a bone, a cloth or a bright reflection",
    "first_bars_contrast": "the first wet bars are grey: wipe the ladder; skim fat or foam off "
    "the water",
    "decay_misfit": "the contrast does not fade evenly with depth: the edge of a shadow, foam, or "
    "a bone before the stripes",
}
CHECK_TEXTS = {
    **THE_PHOTO_AND_SHEET,
    **WATER,
    **AGAINST_THE_REFERENCE,
    **BONE,
    **CLEAR_WATER,
    **LADDERS,
}
