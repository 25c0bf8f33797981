"""The sections of a rig file as frozen values, with their defaults.

Field names are the file's keys. pydantic checks types and bounds when a section is made: text and true/false are not
numbers, a whole number may stand for one with decimals. Rules that join two keys are checked only by
`guidestar.rig.rig_from_dict` and `read_rig`, which are the way to make a rig.
"""

from __future__ import annotations

from typing import Annotated, Any, Final, Literal

from pydantic import AfterValidator, BeforeValidator, ConfigDict
from pydantic.dataclasses import dataclass

from guidestar.rig import limits
from guidestar.rig.site_values import known_time_zone, one_line, plain_horizon, plain_order_rules, plain_spacers

_STRICT: Final = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False)

SIDES_DEG: Final = {"top": 0.0, "left": 90.0, "bottom": 180.0, "right": 270.0}
"""The four edges of the displayed main picture, as `side_deg`."""

DEPENDENT_DEFAULTS: Final = {
    "exit_pupil_mm": "focal_length_mm",
    "holder_width_mm": "width_mm",
    "glass_path_mm": "height_mm",
}
"""Keys that take another key of their section as their default."""

_Share = Annotated[float, limits.SHARE]
_SensorSide = Annotated[float, limits.SENSOR_MM]
_Pixel = Annotated[float, limits.PIXEL_UM]
_PrismSide = Annotated[float, limits.PRISM_SIDE_MM]

OneLine = Annotated[str, AfterValidator(one_line)]


_LEANS_ON_ANOTHER: Any = None  # replaced by `_fill_dependent`; a None that is given is refused


def _fill_dependent(section: object) -> None:
    """Give each dependent key that was left out the value of the key it leans on (called while a section is made)."""
    for key, source in DEPENDENT_DEFAULTS.items():
        if getattr(section, key, 0.0) is None:
            object.__setattr__(section, key, getattr(section, source))


@dataclass(frozen=True, kw_only=True, config=_STRICT)
class Telescope:
    """The telescope as it is used, with its corrector or reducer in place.

    `exit_pupil_mm` counts from the focal plane, infinite if telecentric; `image_circle_mm` is the diameter with
    useful light, None for unlimited; `central_obstruction_mm` a diameter; `fwhm_arcsec` of a star on the guide
    camera at the zenith.
    """

    focal_length_mm: Annotated[float, limits.FOCAL_LENGTH_MM]
    aperture_mm: Annotated[float, limits.APERTURE_MM]
    central_obstruction_mm: Annotated[float, limits.OBSTRUCTION_MM] = 0.0
    exit_pupil_mm: Annotated[float, limits.EXIT_PUPIL_MM] = _LEANS_ON_ANOTHER
    image_circle_mm: Annotated[float | None, limits.IMAGE_CIRCLE_MM] = None
    transmission: _Share = 0.85
    fwhm_arcsec: Annotated[float, limits.FWHM_ARCSEC] = 3.0

    def __post_init__(self) -> None:
        """Fill the defaults that lean on another key."""
        _fill_dependent(self)

    @property
    def f_ratio(self) -> float:
        """Focal length over aperture."""
        return self.focal_length_mm / self.aperture_mm

    @property
    def obstruction_ratio(self) -> float:
        """Diameter of the central obstruction over the aperture, 0 to 1."""
        return self.central_obstruction_mm / self.aperture_mm


@dataclass(frozen=True, kw_only=True, config=_STRICT)
class Camera:
    """The main camera; `mirrored` if its displayed picture has an odd number of reflections."""

    width_mm: _SensorSide
    height_mm: _SensorSide
    pixel_um: _Pixel
    mirrored: bool = False


@dataclass(frozen=True, kw_only=True, config=_STRICT)
class Prism:
    """The pick-off prism: `width_mm` along the tangent, `height_mm` radially as seen along the light.

    `offset_mm` from the axis to the entrance face's centre, `ahead_mm` from that face to the main sensor along the
    light; `side_deg` in [0, 360): 0 top, 90 left, 180 bottom, 270 right in the displayed main picture.
    """

    width_mm: _PrismSide
    height_mm: _PrismSide
    offset_mm: Annotated[float, limits.OFFSET_MM]
    offset_accuracy_mm: Annotated[float, limits.OFFSET_ACCURACY_MM] = 1.0
    ahead_mm: Annotated[float, limits.AHEAD_MM]
    side_deg: Annotated[float, limits.SIDE_DEG] = 0.0
    transmission: _Share = 0.95
    holder_width_mm: Annotated[float, limits.HOLDER_MM] = _LEANS_ON_ANOTHER
    glass_path_mm: Annotated[float, limits.GLASS_PATH_MM] = _LEANS_ON_ANOTHER
    glass_index: Annotated[float, limits.GLASS_INDEX] = 1.52

    def __post_init__(self) -> None:
        """Fill the defaults that lean on another key."""
        _fill_dependent(self)

    @property
    def side(self) -> str | None:
        """The edge of the displayed main picture where the prism sits, None between the four edges."""
        return next((word for word, side_deg in SIDES_DEG.items() if side_deg == self.side_deg), None)


@dataclass(frozen=True, kw_only=True, config=_STRICT)
class GuideCamera:
    """The guide camera; `width_mm` is the side that lies along the prism's width.

    `turned_deg` turns the sensor from radially outward towards the tangent (+y towards +x); noise and well are a
    pixel's, unbinned.
    """

    width_mm: _SensorSide
    height_mm: _SensorSide
    pixel_um: _Pixel
    turned_deg: Annotated[float, limits.TURN_DEG] = 0.0
    picture_mirrored: bool = True
    quantum_efficiency: _Share = 0.6
    read_noise_e: Annotated[float, limits.READ_NOISE_E] = 1.5
    dark_e_per_s: Annotated[float, limits.DARK_E_PER_S] = 0.1
    full_well_e: Annotated[float, limits.FULL_WELL_E] = 12000.0
    binning: Annotated[int, limits.BINNING] = 1


@dataclass(frozen=True, kw_only=True, config=_STRICT)
class Guiding:
    """What counts as a guide star; `faintest_mag` (Gaia G) is None where the light decides."""

    exposure_s: Annotated[float, limits.EXPOSURE_S] = 2.0
    min_snr: Annotated[float, limits.SNR] = 10.0
    min_peak_snr: Annotated[float, limits.SNR] = 3.0
    airmass: Annotated[float, limits.AIRMASS] = 1.3
    min_stars: Annotated[int, limits.STAR_COUNT] = 1
    edge_margin_mm: Annotated[float, limits.MARGIN_MM] = 0.1
    faintest_mag: Annotated[float | None, limits.FAINTEST_MAG] = None
    rotation_accuracy_deg: Annotated[float, limits.ROTATION_DEG] = 1.0


@dataclass(frozen=True, kw_only=True, config=_STRICT)
class Mount:
    """The mount: "german", "fork" or "altaz".

    `flip_after_min`: how long after the target's transit a German mount turns over, minutes, negative for before.
    """

    kind: Literal["german", "fork", "altaz"] = "german"
    flip_after_min: Annotated[float, limits.FLIP_AFTER_MIN] = 0.0

    @property
    def flips(self) -> bool:
        """Whether the camera turns by 180° on the sky when the target crosses the meridian."""
        return self.kind == "german"


@dataclass(frozen=True, kw_only=True, config=_STRICT)
class Sky:
    """The night sky: brightness in V a square arcsecond, its colour V − G, extinction in G an airmass."""

    brightness_mag_arcsec2: Annotated[float, limits.SKY_MAG_ARCSEC2] = 20.5
    v_minus_g: Annotated[float, limits.COLOUR_MAG] = 0.7
    extinction_mag: Annotated[float, limits.EXTINCTION_MAG] = 0.25


@dataclass(frozen=True, kw_only=True, config=_STRICT)
class Site:
    """Where the telescope stands; longitude counts east.

    `horizon_deg` is one altitude, or (azimuth, altitude) pairs in ascending azimuth, degrees, azimuth from north
    through east; `time_zone` a name of the tz database.
    """

    latitude_deg: Annotated[float, limits.LATITUDE_DEG]
    longitude_deg: Annotated[float, limits.LONGITUDE_DEG]
    elevation_m: Annotated[float, limits.ELEVATION_M] = 0.0
    horizon_deg: Annotated[float | tuple[tuple[float, float], ...], BeforeValidator(plain_horizon)] = 20.0
    time_zone: Annotated[str, AfterValidator(known_time_zone)] = "Etc/UTC"


@dataclass(frozen=True, kw_only=True, config=_STRICT)
class Part:
    """One part of the imaging train.

    `prism_at_mm` is the prism's entrance face, `filter_at_mm` the filter's glass, from the part's telescope side.
    """

    name: OneLine
    length_mm: Annotated[float, limits.PART_MM]
    prism_at_mm: Annotated[float | None, limits.PRISM_AT_MM] = None
    filter_at_mm: Annotated[float | None, limits.PRISM_AT_MM] = None


@dataclass(frozen=True, kw_only=True, config=_STRICT)
class Train:
    """The imaging train, `parts` in the order that light meets them; lengths in mm.

    `spacers_mm` are those that the user owns; `order_rules` say "A before B" by the parts' names;
    `filter_bandwidth_nm` of the filter, None if not known; `clear_aperture_mm` the diameter of the narrowest opening,
    None for no limit, `clear_aperture_ahead_mm` before the main sensor (None: where the train begins). Of the guide
    side: `stalk_mm` from the prism's entrance face along the light, round the reflection, to the guide camera's seat
    with its focuser drawn in, `focuser_travel_mm` how far that can be drawn out, `guide_flange_mm` from the guide
    camera's front to its sensor; None where not known.
    """

    back_focus_mm: Annotated[float, limits.BACK_FOCUS_MM] = 55.0
    camera_flange_mm: Annotated[float, limits.FLANGE_MM] = 17.5
    filter_thickness_mm: Annotated[float, limits.FILTER_MM] = 2.0
    filter_index: Annotated[float, limits.GLASS_INDEX] = 1.52
    filter_bandwidth_nm: Annotated[float | None, limits.BANDWIDTH_NM] = None
    spacers_mm: Annotated[tuple[float, ...], BeforeValidator(plain_spacers)] = ()
    clear_aperture_mm: Annotated[float | None, limits.OPENING_MM] = None
    clear_aperture_ahead_mm: Annotated[float | None, limits.OPENING_AHEAD_MM] = None
    stalk_mm: Annotated[float | None, limits.STALK_MM] = None
    focuser_travel_mm: Annotated[float | None, limits.TRAVEL_MM] = None
    guide_flange_mm: Annotated[float | None, limits.FLANGE_MM] = None
    order_rules: Annotated[tuple[str, ...], BeforeValidator(plain_order_rules)] = ()
    parts: tuple[Part, ...] = ()

    @property
    def prism_ahead_mm(self) -> float | None:
        """Distance from the prism's entrance face to the main sensor along the light, mm; None if no part holds it.

        The rest of its part, the parts behind it and the camera's flange distance. A filter's glass, which moves the
        focus back by about a third of its thickness, is ignored here.
        """
        for i, part in enumerate(self.parts):
            if part.prism_at_mm is not None:
                behind = sum(later.length_mm for later in self.parts[i + 1 :])
                return part.length_mm - part.prism_at_mm + behind + self.camera_flange_mm
        return None
