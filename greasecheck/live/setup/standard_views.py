"""Photos of the setup: the stand looked at, the clear-water reference, the turbidity scale."""

from __future__ import annotations

import csv
import os
import tempfile
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from flask import redirect, render_template, request, url_for

from greasecheck.errors import DataFileError, LiveError
from greasecheck.garage.standards import murkier_per_m
from greasecheck.live.access.forms import number_in
from greasecheck.live.fields import text_in
from greasecheck.live.photos.waiting import shown_name
from greasecheck.live.setup.advice import first_photo_advice
from greasecheck.live.setup.steps import setup_steps
from greasecheck.logbook.readings.standards import put_in_force
from greasecheck.logbook.records import Standard, StandardKind
from greasecheck.logbook.store.book import Logbook
from greasecheck.logbook.undo import newest_entry
from greasecheck.measure.photo.file import distinct_files
from greasecheck.measure.reading import view_photo
from greasecheck.measure.stand import view_clear_water
from greasecheck.measure.turbidity import Dilution, fit_scale, scale_to_json
from greasecheck.measure.water.reference import make_clear_water
from greasecheck.measure.water.reference_file import clear_water_to_json

if TYPE_CHECKING:
    from collections.abc import Iterator

    from werkzeug.wrappers import Response

    from greasecheck.live.parts import Live

USUAL_PATH_MM = 60.0  # the jar that the README describes; readings scale with its inverse
MOST_SERIES_BYTES = 100_000


def look_at_stand(live: Live) -> str:
    """Say of a photo of stand, ladder or card what to move; nothing is written."""
    live.forms.check(request.form)
    with _sent_photos(live) as (path, *_):
        view = view_photo(path, live.settings.read)
    with Logbook(live.settings.logbook) as book:
        measured_by = setup_steps(book).measured_by
    advice = first_photo_advice(view, measured_by)
    return render_template("stand.html.j2", advice=advice, measured_by=measured_by)


def take_clear_water(live: Live) -> Response | str:
    """Make the clear-water reference from photos, and put it in force from their time on."""
    form = request.form
    path_mm = number_in(form, "path_mm", "depth of the jar", 5.0, 500.0) or USUAL_PATH_MM
    with Logbook(live.settings.logbook, create=True) as book:

        def work() -> str:
            settings = live.settings.read
            with_jar = replace(settings, jar=replace(settings.jar, path_mm=path_mm))
            tap_water = form.get("tap_water") == "yes"
            with _sent_photos(live) as paths:
                seen = [
                    view_clear_water(path, with_jar, tap_water=tap_water)
                    for path in distinct_files(paths)
                ]
            made = make_clear_water(seen, path_mm)
            murkier = murkier_per_m(book, made)
            body = clear_water_to_json(made)
            kind = StandardKind.CLEAR_WATER
            put_in_force(book, Standard(kind=kind, in_force_from=made.taken_at, body=body))
            deep = next((one.doubted_path_mm for one in seen if one.doubted_path_mm), None)
            return url_for(
                "setup", entry=newest_entry(book), murkier=murkier, deep=deep, photos=made.photos
            )

        return redirect(live.forms.once(form, request.path, work), 303)


def take_series(live: Live) -> Response:
    """Make the turbidity scale from a CSV file of a dilution series."""
    form = request.form
    live.forms.check(form)
    file = request.files.get("series")
    if file is None or not file.filename:
        raise LiveError("no file was chosen", hint="choose the CSV file of the series")
    steps = _series(file.stream.read(MOST_SERIES_BYTES))
    unit = text_in(form, "unit") or "FNU"
    with Logbook(live.settings.logbook, create=True) as book:

        def work() -> str:
            body = scale_to_json(fit_scale(steps, unit))
            put_in_force(
                book,
                Standard(kind=StandardKind.TURBIDITY, in_force_from=datetime.now(UTC), body=body),
            )
            return url_for("setup", entry=newest_entry(book))

        return redirect(live.forms.once(form, request.path, work), 303)


def _series(content: bytes) -> list[Dilution]:
    try:
        lines = content.decode("utf-8-sig").splitlines()
        rows = csv.DictReader(line for line in lines if not line.startswith("#"))
        return [
            Dilution(
                turbidity=float(row["turbidity"]),
                turbidity_std=float(row["turbidity_std"]),
                attenuation_per_m=float(row["attenuation_per_m"]),
                std_per_m=float(row["std_per_m"]),
            )
            for row in rows
        ]
    except (KeyError, TypeError, ValueError, csv.Error) as error:
        raise DataFileError(
            f"the series lacks or garbles {error}",
            hint="give it the columns turbidity, turbidity_std, attenuation_per_m and std_per_m",
        ) from error


@contextmanager
def _sent_photos(live: Live) -> Iterator[list[Path]]:
    """Give the photos that were sent as files, which go at the end."""
    files = [file for file in request.files.getlist("photo") if file.filename]
    if not files:
        raise LiveError("no photo was chosen", hint="take one")
    with tempfile.TemporaryDirectory(dir=live.settings.waiting) as folder:
        paths = []
        for number, file in enumerate(files):
            name = shown_name(file.filename or "").replace(os.sep, "_")
            paths.append(Path(folder) / str(number) / name)
            paths[-1].parent.mkdir()
            file.save(paths[-1])
        yield paths
