"""From a photo file to a reading: the one way in."""

from __future__ import annotations

import hashlib
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from greasecheck import __version__
from greasecheck.errors import (
    BoneError,
    ColourError,
    DataFileError,
    GreasecheckError,
    PhotoError,
    SheetError,
    WaterError,
)
from greasecheck.measure.bone.drawing import DrawnBone, Mark
from greasecheck.measure.bone.look import BoneView, measure_bone
from greasecheck.measure.checks import card as card_checks
from greasecheck.measure.checks import verdict as quality
from greasecheck.measure.checks.judged import judged_reading
from greasecheck.measure.colour.model import fit_colour
from greasecheck.measure.photo.file import file_sha256, printable
from greasecheck.measure.photo.load import load_photo
from greasecheck.measure.sheet.charts import Chart, SeenCharts, seen_charts
from greasecheck.measure.sheet.find import find_sheet
from greasecheck.measure.sheet.fingerprint import photo_fingerprint
from greasecheck.measure.sheet.samples import places_mm
from greasecheck.measure.water.attenuation import Jar, measure_water
from greasecheck.measure.water.transmittance import JarState
from greasecheck.model import Absent, BoneState, Reading, ReadingKind, Stroke, Verdict
from greasecheck.reference import known_cards
from greasecheck.reference.geometry import OWN_CHART
from greasecheck.reference.patches.values import values_for

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime, tzinfo
    from pathlib import Path

    from greasecheck.measure.card.look import CardView
    from greasecheck.measure.colour.model import ColourModel
    from greasecheck.measure.ladder.look import LadderView
    from greasecheck.measure.sheet.markers import SeenMarker
    from greasecheck.measure.water.attenuation import WaterView
    from greasecheck.model import (
        Check,
        Drawn,
        Lens,
        PatchValues,
        Photo,
        Placement,
        SheetGeometry,
    )

# A photo of so many pixels across at the usual stand shows the sheet at 4.7 px per mm, at which the
# accuracy of the readings is shown (tests/benchmarks/water_accuracy); more pixels cost time only.
LEAST_SIDE_PX = 2000
ENOUGH_CARD_PX_PER_MM = 3.0  # at fewer, the whole photo shows the outline better
CARD_PART = "card"  # of the reading of a card beside a sheet
ENOUGH_PX_PER_MM = 4.5  # a sheet that is smaller in the reduced photo is looked at in the whole one


@dataclass(frozen=True, slots=True, kw_only=True)
class DatedJar:
    """A jar with its reference and scale, in force from a zone-aware time on."""

    since: datetime
    jar: Jar


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadSettings:
    """What stays the same from photo to photo.

    Attributes
    ----------
    values : PatchValues, tuple of PatchValues, or None
        The user's measured patch values, of one or several designs of sheet; a sheet without any
        is read by its nominal ones (card-relative readings).
    sheets : tuple of SheetGeometry
        The designs to look for; empty for those that come with greasecheck.
    jar : Jar
        The jar, its clear-water reference and turbidity scale.
    dated_jars : tuple of DatedJar
        Jars in force at different times, oldest first, that go before `jar`.
    lens : Lens or None
        Distortion of the fixed camera, where it was estimated.
    default_zone : datetime.tzinfo or None
        Zone of photos that carry none; None for that of this computer.
    bone_state : BoneState
        How wet the bone is.
    drawn : tuple of Drawn
        Corrections of what is bone.
    drawn_before : mapping of str to tuple of Drawn
        The same by the photo's SHA-256, for photos that were corrected before.
    tub : int or None
        Tub number to use instead of the tag.
    """

    values: PatchValues | tuple[PatchValues, ...] | None = None
    sheets: tuple[SheetGeometry, ...] = ()
    jar: Jar = field(default_factory=Jar)
    dated_jars: tuple[DatedJar, ...] = ()
    lens: Lens | None = None
    default_zone: tzinfo | None = None
    bone_state: BoneState = BoneState.BLOTTED
    drawn: tuple[Drawn, ...] = ()
    drawn_before: Mapping[str, tuple[Drawn, ...]] = field(default_factory=dict)
    tub: int | None = None

    def drawn_on(self, photo: Photo) -> tuple[Drawn, ...]:
        """Return the corrections of what is bone in a photo."""
        return self.drawn or self.drawn_before.get(photo.sha256, ())

    def card_in(self, photo: Photo, seen: tuple[SeenMarker, ...] = ()) -> Placement:
        """Find the bone card in a photo; parameters and errors as for `find_sheet`."""
        return find_sheet(photo, self.lens, known_cards(), seen=seen)

    def place_of(self, photo: Photo, seen: tuple[SeenMarker, ...] = ()) -> Placement:
        """Find the sheet in a photo; parameters and errors as for `find_sheet`."""
        given = next(iter(self._given()), None)
        return find_sheet(photo, self.lens, self.sheets, given, seen)

    def values_of(self, geometry: SheetGeometry) -> PatchValues:
        """Return the colours to read a sheet by; raises DataFileError when there are none."""
        return values_for(geometry, self._given())

    def _given(self) -> tuple[PatchValues, ...]:
        if self.values is None:
            return ()
        return self.values if isinstance(self.values, tuple) else (self.values,)

    def jar_at(self, taken_at: datetime) -> Jar:
        """Return the jar in force at a time; the first one for photos from before it."""
        begun = [dated.jar for dated in self.dated_jars if dated.since <= taken_at]
        first = [dated.jar for dated in self.dated_jars[:1]]
        return (begun[-1:] or first or [self.jar])[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoView:
    """A reading with what it was made from, for pictures; None where a step was not reached.

    `others` are further readings of the same photo: one for each ladder and bone beside the sheet.
    """

    reading: Reading
    photo: Photo | None = None
    placement: Placement | None = None
    colour: ColourModel | None = None
    water: WaterView | None = None
    bone: BoneView | None = None
    card: CardView | None = None
    others: tuple[Reading, ...] = ()
    ladders: tuple[LadderView, ...] = ()

    @property
    def readings(self) -> tuple[Reading, ...]:
        """Return all readings of the photo, the sheet's first."""
        return (self.reading, *self.others)


def view_photo(path: Path, settings: ReadSettings) -> PhotoView:
    """Read one photo and keep the steps; parameters and errors as for `measure.read_photo`."""
    try:
        photo = load_photo(path, settings.default_zone, LEAST_SIDE_PX)
    except PhotoError as error:
        return PhotoView(reading=refused_reading(path, _digest(path), error))
    charts = SeenCharts() if settings.sheets else seen_charts(photo)
    if Chart.LADDER in charts.kinds:
        return _view_ladders(photo, charts, settings)
    view = _view_charts(photo, charts, settings)
    unseen = view.placement is None and view.card is None and not settings.sheets
    return (_ladders_alone(photo, settings) if unseen else None) or view


def _view_ladders(photo: Photo, charts: SeenCharts, settings: ReadSettings) -> PhotoView:
    """Read the ladders, and the sheet or card beside them."""
    alone = _ladders_alone(photo, settings)
    if alone is None or charts.kinds == {Chart.LADDER}:
        return alone or _view_charts(photo, charts, settings)
    view = _view_charts(photo, charts, settings)
    return replace(view, others=(*view.others, *alone.readings), ladders=alone.ladders)


def _ladders_alone(photo: Photo, settings: ReadSettings) -> PhotoView | None:
    """Read the ladders, in the whole photo once any are seen; None where there are none."""
    from greasecheck.measure.ladder.look import read_ladders  # noqa: PLC0415 - loads scikit-image
    from greasecheck.measure.ladder.readings import ladder_readings  # noqa: PLC0415 - as above

    found = read_ladders(photo, settings.lens, settings.jar.scale)
    if not found:
        return None
    if photo.reduced_by > 1:
        photo = load_photo(photo.path, settings.default_zone)
        found = read_ladders(photo, settings.lens, settings.jar.scale) or found
    first, *rest = ladder_readings(photo, found, settings.tub)
    return PhotoView(reading=first, photo=photo, others=tuple(rest), ladders=found)


def _view_charts(photo: Photo, charts: SeenCharts, settings: ReadSettings) -> PhotoView:
    if Chart.CARD in charts.kinds and Chart.SHEET not in charts.kinds:
        return _view_card(photo, settings, charts)
    view = _view_sheet(photo, settings, charts)
    if Chart.CARD in charts.kinds:
        card = _view_card(photo, settings, charts).reading
        return replace(view, others=(*view.others, replace(card, part=CARD_PART)))
    if view.placement is not None or settings.sheets:
        return view
    small = _view_card(photo, settings, charts)  # too small to be seen at a glance
    return view if small.placement is None else small


def _view_card(photo: Photo, settings: ReadSettings, charts: SeenCharts) -> PhotoView:
    place = partial(settings.card_in, seen=charts.markers)
    try:
        photo, placement = _placed(photo, place, settings, ENOUGH_CARD_PX_PER_MM)
    except (SheetError, DataFileError) as error:
        refused = replace(_refused(photo, settings.tub, error), kind=ReadingKind.BONE)
        return PhotoView(reading=refused, photo=photo)
    return _view_placed(photo, placement, settings)


def _view_sheet(photo: Photo, settings: ReadSettings, charts: SeenCharts) -> PhotoView:
    place = partial(settings.place_of, seen=charts.markers)
    try:
        photo, placement = _placed(photo, place, settings, ENOUGH_PX_PER_MM)
    except (SheetError, DataFileError) as error:
        return PhotoView(reading=_refused(photo, settings.tub, error), photo=photo)
    return _view_placed(photo, placement, settings)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Scene:
    """A photo whose chart is found and whose colours are fitted."""

    photo: Photo
    placement: Placement
    colour: ColourModel
    settings: ReadSettings
    tub: int | None

    @property
    def geometry(self) -> SheetGeometry:
        """Return the chart's geometry."""
        return self.placement.geometry

    @property
    def jar(self) -> Jar:
        """Return the jar, by the standards in force when the photo was taken."""
        return self.settings.jar_at(self.photo.taken_at)

    @property
    def drawn(self) -> tuple[Drawn, ...]:
        """Return what a person drew on the photo."""
        return self.settings.drawn_on(self.photo)


def _view_placed(photo: Photo, placement: Placement, settings: ReadSettings) -> PhotoView:
    tub = placement.tub if settings.tub is None else settings.tub
    try:
        colour = fit_colour(photo, placement, settings.values_of(placement.geometry))
    except (ColourError, DataFileError) as error:
        refused = _refused(photo, tub, error)
        return PhotoView(reading=refused, photo=photo, placement=placement)
    scene = _Scene(photo=photo, placement=placement, colour=colour, settings=settings, tub=tub)
    return _measure_beside(scene) if placement.geometry.is_card else _measure(scene)


def _placed(
    photo: Photo,
    place: partial[Placement],
    settings: ReadSettings,
    enough_px_per_mm: float,
) -> tuple[Photo, Placement]:
    """Find a chart; in the whole photo where a reduced one shows it small or not at all."""
    if photo.reduced_by > 1:
        with suppress(SheetError):
            placement = place(photo)
            if placement.pixels_per_mm >= enough_px_per_mm:
                return photo, placement
        photo = load_photo(photo.path, settings.default_zone)
        return photo, place(photo, seen=())
    return photo, place(photo)


def _measure_beside(scene: _Scene) -> PhotoView:
    """Measure the bone beside a card; a user's own chart is read for its colours without one."""
    from greasecheck.measure.card.look import measure_beside_card  # noqa: PLC0415 - loads scikit-image

    photo, placement, colour = scene.photo, scene.placement, scene.colour
    card: CardView | None = None
    absent: tuple[Absent, ...] = ()
    try:
        card = measure_beside_card(
            photo, placement, colour, state=scene.settings.bone_state, drawn=scene.drawn
        )
        rows = card_checks.bone_checks(card, placement, scene.drawn)
    except BoneError as error:
        own = scene.geometry.version == OWN_CHART
        absent = (Absent.BONE_BESIDE,) if own else ()
        rows = () if own else (quality.failure(error),)
    checks = (
        *card_checks.photo_checks(photo, placement, scene.tub),
        *card_checks.place_checks(placement),
        *quality.colour_checks(colour, scene.geometry),
        *rows,
    )
    reading = replace(
        _chart_reading(scene, checks),
        bone=card.reading if card else None,
        kind=ReadingKind.BONE,
        absent=absent,
        skull_tag=placement.skull_tag,
        drawn=scene.drawn,
    )
    return PhotoView(reading=reading, photo=photo, placement=placement, colour=colour, card=card)


def _measure(scene: _Scene) -> PhotoView:
    water, water_rows = _water(scene)
    rest, bone_rows = _bone(scene)
    bone = rest if isinstance(rest, BoneView) else None
    has_bars = scene.geometry.bars is not None
    no_jar = water is None and not any(row.hard for row in water_rows)
    checks = (
        *quality.photo_checks(scene.photo, scene.tub, tag_slot=scene.geometry.tag is not None),
        *quality.sheet_checks(scene.placement),
        *quality.colour_checks(scene.colour, scene.geometry),
        *water_rows,
        *(replace(row, hard=no_jar) if rest is None else row for row in bone_rows),
        *_something_seen(scene.geometry, seen=not no_jar or bool(bone) or bool(bone_rows)),
    )
    reading = replace(
        _chart_reading(scene, checks),
        water=water.reading if water else None,
        bone=bone.reading if bone else None,
        kind=ReadingKind.BONE if bone and not water else ReadingKind.JAR,
        absent=(
            *((Absent.JAR,) if no_jar and has_bars else ()),
            *((rest,) if isinstance(rest, Absent) else ()),
        ),
        drawn=scene.drawn,
    )
    return PhotoView(
        reading=reading,
        photo=scene.photo,
        placement=scene.placement,
        colour=scene.colour,
        water=water,
        bone=bone,
    )


def _chart_reading(scene: _Scene, checks: tuple[Check, ...]) -> Reading:
    """Return what the chart itself gives; water and bone are added to it."""
    return replace(
        judged_reading(scene.photo, scene.tub, checks),
        colour=scene.colour.fit,
        sheet_version=scene.geometry.version,
        fingerprint=photo_fingerprint(scene.photo, scene.placement) or None,
    )


def _water(scene: _Scene) -> tuple[WaterView | None, tuple[Check, ...]]:
    if scene.geometry.bars is None or scene.geometry.jar is None:
        return None, ()
    jar = scene.jar
    try:
        view = measure_water(scene.photo, scene.placement, scene.colour, jar)
    except WaterError as error:
        return None, (quality.failure(error),)
    if view.jar_state is JarState.ABSENT:
        return None, quality.bare_sight_checks(view.sight)
    if view.jar_state is JarState.EMPTY:
        return None, (quality.refusal("jar_filled"),)
    has_reference = jar.clear is not None
    return view, quality.water_checks(view, scene.photo.camera, has_reference=has_reference)


def _bone(scene: _Scene) -> tuple[BoneView | Absent | None, tuple[Check, ...]]:
    """Measure the bone; one that cannot be measured leaves the water, and is None."""
    clear, drawn = scene.jar.clear, _drawn_bone(scene)
    if scene.geometry.rest is None and drawn.outline_mm is None:
        return None, ()
    try:
        found = measure_bone(
            scene.photo,
            scene.placement,
            scene.colour,
            state=scene.settings.bone_state,
            drawn=drawn,
            usual=clear.rest if clear else None,
        )
    except BoneError as error:
        return None, (quality.failure(error, hard=False),)
    return found, () if isinstance(found, Absent) else quality.bone_checks(found)


def _drawn_bone(scene: _Scene) -> DrawnBone:
    """Return what was drawn, on the sheet; several outlines are joined, each closed."""
    marks = tuple(
        Mark(
            stroke=one.stroke,
            places_mm=places_mm(one, scene.placement, scene.photo.reduced_by),
        )
        for one in scene.drawn
    )
    loops = [one.places_mm for one in marks if one.stroke is Stroke.OUTLINE]
    return DrawnBone(
        outline_mm=np.concatenate([[*loop, loop[0]] for loop in loops]) if loops else None,
        marks=tuple(one for one in marks if one.stroke is not Stroke.OUTLINE),
    )


def _something_seen(geometry: SheetGeometry, *, seen: bool) -> tuple[Check, ...]:
    """Check that there is a jar or a bone; one that was refused has been seen.

    A chart without places for them is read for its colours alone.
    """
    if geometry.bars is None and geometry.rest is None:
        return ()
    return (quality.requirement("jar_or_bone_seen", seen, hard=True),)


def refused_reading(path: Path, sha256: str, error: GreasecheckError) -> Reading:
    """Return the reading of a photo of which only its digest is known, refused by an error."""
    return Reading(
        photo_path=printable(path),
        photo_sha256=sha256,
        taken_at=None,
        time_source=None,
        tub=None,
        verdict=Verdict.REFUSED,
        checks=(quality.failure(error),),
        water=None,
        bone=None,
        colour=None,
        sheet_version=None,
        software_version=__version__,
    )


def _refused(photo: Photo, tub: int | None, error: GreasecheckError) -> Reading:
    return judged_reading(photo, tub, (quality.failure(error),))


def _digest(path: Path) -> str:
    """Digest of the file, or of nothing when it cannot be read."""
    try:
        return file_sha256(path)
    except PhotoError:
        return hashlib.sha256(b"").hexdigest()
