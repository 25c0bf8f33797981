"""What each number of a rig file may be, in one place.

The bounds are there to catch slips (centimetres for millimetres, a swapped pair, a lost decimal point), so they are
wide: anything that exists or could be built passes. Where a bound is physics, the comment says so; the others are a
generous reading of common practice, no source. Rules that join two keys stand in `rules.py`.

Infinite and undefined numbers are refused everywhere but in `EXIT_PUPIL_MM`, which may be infinite (telecentric).
"""

from __future__ import annotations

from typing import Any, Final

from pydantic import Field

# A pydantic Field is typed as Any: it is metadata of the annotated type, never a value.
Bounds = Any

# telescope
FOCAL_LENGTH_MM: Final[Bounds] = Field(ge=50, le=20000)  # agreed for the rig file
APERTURE_MM: Final[Bounds] = Field(ge=10, le=10000)  # a finder's lens to the largest mirrors
OBSTRUCTION_MM: Final[Bounds] = Field(ge=0, le=10000)  # none, to a secondary as large as any mirror
EXIT_PUPIL_MM: Final[Bounds] = Field(gt=0, allow_inf_nan=True)  # before the focal plane; inf = telecentric
IMAGE_CIRCLE_MM: Final[Bounds] = Field(ge=2, le=500)  # smallest sensor's diagonal to photographic plates
SHARE: Final[Bounds] = Field(gt=0, le=1)  # a transmission or an efficiency: physics
FWHM_ARCSEC: Final[Bounds] = Field(ge=0.1, le=60)  # adaptive optics to a badly blurred corner

# main camera and guide camera
SENSOR_MM: Final[Bounds] = Field(ge=0.5, le=200)  # one side; endoscope chips to large mosaics
PIXEL_UM: Final[Bounds] = Field(ge=0.5, le=50)  # unbinned, one side
READ_NOISE_E: Final[Bounds] = Field(ge=0, le=200)  # 0 = photon counting
DARK_E_PER_S: Final[Bounds] = Field(ge=0, le=10000)  # a pixel; uncooled and hot at most
FULL_WELL_E: Final[Bounds] = Field(ge=100, le=10_000_000)  # a pixel, electrons
BINNING: Final[Bounds] = Field(ge=1, le=16)  # 1 = every pixel by itself

# prism
PRISM_SIDE_MM: Final[Bounds] = Field(ge=1, le=100)  # entrance face, either side
OFFSET_MM: Final[Bounds] = Field(gt=0, le=500)  # axis to the face's centre
OFFSET_ACCURACY_MM: Final[Bounds] = Field(ge=0, le=20)  # 0 = known exactly
AHEAD_MM: Final[Bounds] = Field(gt=0, le=2000)  # entrance face to main sensor, along the light
HOLDER_MM: Final[Bounds] = Field(ge=0, le=300)  # 0 = nothing but the prism itself casts a shadow
GLASS_PATH_MM: Final[Bounds] = Field(ge=0, le=300)  # 0 = a mirror
GLASS_INDEX: Final[Bounds] = Field(ge=1, le=4)  # air to infrared materials
TURN_DEG: Final[Bounds] = Field(ge=-360, le=360)  # either sense, up to a full turn
SIDE_DEG: Final[Bounds] = Field(ge=0, lt=360)  # 0 top, 90 left, 180 bottom, 270 right

# guiding
EXPOSURE_S: Final[Bounds] = Field(ge=0.001, le=3600)
SNR: Final[Bounds] = Field(ge=1, le=1000)  # below 1 there is no star, only noise
AIRMASS: Final[Bounds] = Field(ge=1, le=40)  # zenith to horizon
STAR_COUNT: Final[Bounds] = Field(ge=1, le=100)
MARGIN_MM: Final[Bounds] = Field(ge=0, le=50)  # strip along each edge of the guide sensor
FAINTEST_MAG: Final[Bounds] = Field(ge=0, le=25)  # Gaia G; the deepest whole-sky star lists end near 21
ROTATION_DEG: Final[Bounds] = Field(ge=0, le=90)  # how well the camera angle can be set

# mount
FLIP_AFTER_MIN: Final[Bounds] = Field(ge=-180, le=180)  # negative: before the meridian; tubes meet piers soon after

# sky
SKY_MAG_ARCSEC2: Final[Bounds] = Field(ge=5, le=23)  # twilight to the darkest natural sky (about 22)
COLOUR_MAG: Final[Bounds] = Field(ge=-3, le=3)
EXTINCTION_MAG: Final[Bounds] = Field(ge=0, le=3)  # per airmass; 0 = above the air

# site
LATITUDE_DEG: Final[Bounds] = Field(ge=-90, le=90)  # south negative
LONGITUDE_DEG: Final[Bounds] = Field(ge=-180, le=360)  # east positive; west as −180…0 or 180…360
ELEVATION_M: Final[Bounds] = Field(ge=-450, le=9000)  # lowest shore to highest summit
HORIZON_LOW_DEG: Final = -5.0  # seen down from a mountain
HORIZON_HIGH_DEG: Final = 90.0

# train
BACK_FOCUS_MM: Final[Bounds] = Field(gt=0, le=1000)
FLANGE_MM: Final[Bounds] = Field(ge=0, le=300)  # camera's front to its sensor
FILTER_MM: Final[Bounds] = Field(ge=0, le=50)  # 0 = no filter
PART_MM: Final[Bounds] = Field(ge=0, le=1000)  # length of a part; 0 = no optical length
PRISM_AT_MM: Final[Bounds] = Field(ge=0, le=1000)  # from the part's telescope side; a filter's glass likewise
BANDWIDTH_NM: Final[Bounds] = Field(ge=0.5, le=2000)  # the narrowest line filters to all that silicon sees
OPENING_MM: Final[Bounds] = Field(ge=2, le=1000)  # diameter of a tube or an adapter
OPENING_AHEAD_MM: Final[Bounds] = Field(ge=0, le=2000)  # before the main sensor
STALK_MM: Final[Bounds] = Field(ge=0, le=500)  # from the prism's face round to the guide camera's seat
TRAVEL_MM: Final[Bounds] = Field(ge=0, le=200)  # 0 = the guide camera cannot be moved
SPACER_LOW_MM: Final = 0.05  # a thin shim
SPACER_HIGH_MM: Final = 300.0
MOST_SPACERS: Final = 40

FASTEST_F_RATIO: Final = 0.5
"""In air no cone is wider than f/0.5 (sine condition with sin = 1): physics."""

AHEAD_DISAGREEMENT_MM: Final = 0.5
"""`ahead_mm` and the train may differ by this much before it is worth a warning."""
