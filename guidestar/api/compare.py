"""`compare`: rigs side by side, as an object."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from guidestar.api.arguments import judged
from guidestar.api.common import frame_of, values_of, with_options, year_of
from guidestar.api.maps import chosen_sky, page_of, require_sky
from guidestar.errors import InputError
from guidestar.field.needs import star_needs
from guidestar.maps.compare import Comparison, difference
from guidestar.maps.compare import compare as compare_rigs
from guidestar.maps.files import Writer, output_folder, write_all
from guidestar.maps.fits import write_differences
from guidestar.maps.kept import kept
from guidestar.maps.summary import SPARSE_BELOW
from guidestar.maps.targets import wished
from guidestar.maps.variants import Number, Variant, Vary, parse_vary, told_apart, variants
from guidestar.rig import PRESETS, Rig, preset, read_rig
from guidestar.rig.wording import did_you_mean, shown
from guidestar.stars.source import StarSource

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

Varied = Mapping[str, Sequence[Number]] | Sequence[str]


@dataclass(frozen=True)
class CompareAnswer(Comparison):
    """A `guidestar.maps.compare.Comparison` that can show itself; `notes` say what to know before trusting it."""

    notes: tuple[str, ...] = ()

    def to_frame(self) -> pd.DataFrame:
        """Return one row a rig: what was varied, and its figures over the sky (needs pandas)."""
        keys = [item.key for item in self.varied]
        first = self.rigs[0].summary.whole
        rows = [
            {
                "rig": rig.rig.name,
                **dict(zip(keys, rig.variant.values, strict=True)),
                "usable": rig.summary.whole.usable.mean,
                "sure": rig.summary.whole.sure.mean,
                "flip_safe": rig.summary.whole.flip_safe.mean,
                "expected": rig.summary.whole.expected.mean,
                "no_angle": rig.summary.whole.no_angle,
                "sparse": rig.summary.whole.usable.below,
                "usable_minus_first": difference(rig.summary.whole.usable.mean, first.usable.mean),
                "reach_mag": rig.reach_mag,
                "lit_share": rig.lit_share,
                "shadows_main_sensor": rig.shadows,
            }
            for rig in self.rigs
        ]
        return frame_of(rows)

    def to_json(self) -> dict[str, object]:
        """Return the comparison as plain values, in the schema of `compare --json`."""
        from guidestar.report.compare_json import compare_to_json

        return compare_to_json(self, self.notes)

    def to_text(self, *, folder: str | None = None, width: int | None = None, colour: bool = False) -> str:
        """Return the report that the command line prints; `folder` is named in it as where the files are."""
        from guidestar.report.compare_text import render_compare

        return render_compare(self, self.notes, folder=folder, width=width, colour=colour)

    def plot(self) -> Figure:
        """Draw the page: curves, and where in the sky a rig gains or loses."""
        from guidestar.report.compare_figure import plot_compare

        return plot_compare(self)

    def save(self, folder: str | os.PathLike[str]) -> tuple[Path, ...]:
        """Write all files of the comparison into a folder, which is made if it is missing: all of them or none.

        Raises
        ------
        InputError
            The folder cannot be written to.
        """
        with output_folder(Path(folder)) as there:
            return write_all(there, self._writers())

    def _writers(self) -> Mapping[str, Writer]:
        def picture(path: Path) -> None:
            from guidestar.report.compare_figure import save_compare

            save_compare(self, path)

        def table(path: Path) -> None:
            from guidestar.report.compare_json import compare_csv

            path.write_text(compare_csv(self), encoding="utf-8")

        others = [(rig.rig.name, rig.sky) for rig in self.rigs[1:]]
        return {
            "compare.png": picture,
            "compare.csv": table,
            "differences.fits": lambda path: write_differences(self.rigs[0].sky, others, path),
            "compare.json": lambda path: path.write_text(page_of(self.to_json()), encoding="utf-8"),
        }

    def __str__(self) -> str:
        """Return the report that the command line prints."""
        return self.to_text()


@judged
def compare(
    rigs: Sequence[Rig | str | os.PathLike[str]],
    *,
    vary: Varied = (),
    nside: int = 32,
    bounds: tuple[float, float] | None = None,
    targets: str | os.PathLike[str] | None = None,
    sparse: float = SPARSE_BELOW,
    stars: StarSource | str | None = None,
    store: str | os.PathLike[str] | None = None,
    epoch: float | str | None = None,
    faintest_mag: float | None = None,
    min_stars: int | None = None,
    exposure: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> CompareAnswer:
    """Set rigs side by side over the whole sky; the first one is what the others are measured against.

    Parameters
    ----------
    rigs : sequence of Rig, path or preset name
        At least two, or one with `vary`; files of rigs that share a name are called by the files' names.
    vary : mapping or sequence of str
        Keys of the rig file and the numbers to try in their place, {"prism.width_mm": [8, 10, 12]} or
        ["prism.width_mm=8,10,12"]; with several keys every combination.
    nside, bounds, targets, sparse, stars, store, epoch, faintest_mag, min_stars, exposure, progress
        As for `guidestar.sky_map`; they hold for all rigs.

    Raises
    ------
    InputError
        A rig, a key, a value or an option cannot be used, or Numba is not installed.
    DataError
        The star catalogue or the store failed.
    """
    varied = _varied(vary)
    given = list(rigs)
    sources = [None if isinstance(rig, Rig) else rig for rig in given]
    known = told_apart([rig_or_preset(rig) for rig in given], sources)
    chosen = [
        Variant(
            with_options(variant.rig, faintest_mag=faintest_mag, min_stars=min_stars, exposure=exposure),
            variant.base,
            variant.values,
        )
        for variant in variants(known, varied)
    ]
    require_sky(nside, bounds, sparse)
    rows = () if targets is None else wished(Path(targets))
    year = year_of(epoch)
    faintest = max(_faintest_mag(variant.rig) for variant in chosen)
    source = chosen_sky(stars, store, faintest)
    found = compare_rigs(
        chosen,
        kept(source.source, epoch_year=year, faintest_mag=faintest),
        nside=nside,
        epoch_year=year,
        sparse_below=sparse,
        bounds_deg=bounds,
        varied=varied,
        rows=rows,
        progress=progress,
    )
    return CompareAnswer(**values_of(found), notes=source.notes)


def _faintest_mag(rig: Rig) -> float:
    """Return how faint a rig goes; of several the one that cannot be used is named."""
    try:
        return star_needs(rig).faintest_mag
    except InputError as error:
        raise InputError(f"{rig.name}: {error}") from error


def _varied(vary: Varied) -> tuple[Vary, ...]:
    try:
        if isinstance(vary, Mapping):
            texts = [f"{key}={','.join(map(str, _several(values)))}" for key, values in vary.items()]
        else:
            texts = [vary] if isinstance(vary, str) else [_text(item) for item in vary]
    except TypeError as error:
        example = '{"prism.width_mm": [8, 10, 12]}'
        raise InputError(f"vary: found {shown(vary)}, must be keys and lists of numbers, such as {example}.") from error
    return tuple(parse_vary(text) for text in texts)


def _several(values: object) -> Iterable[object]:
    if isinstance(values, str | bytes) or not isinstance(values, Iterable):
        raise TypeError
    return values


def _text(item: object) -> str:
    if not isinstance(item, str):
        raise TypeError
    return item


def rig_or_preset(rig: Rig | str | os.PathLike[str]) -> Rig:
    """Return the rig itself, the one in a TOML file, or the preset of that name where there is no such file."""
    if isinstance(rig, Rig):
        return rig
    if not isinstance(rig, str | os.PathLike):
        raise InputError(f"rigs: found {shown(rig)}, must be a rig, a path or the name of a preset.")
    path = Path(rig)
    if path.exists() or path.suffix or len(path.parts) > 1:
        return read_rig(rig)
    if str(rig) in PRESETS:
        return preset(str(rig))
    near = did_you_mean(str(rig), PRESETS) or "; 'guidestar rig new --list' names the presets"
    raise InputError(f'"{rig}" is neither a rig file nor a preset{near}')
