"""The text of a rig file to start from: every key with its unit and what it means.

A line `key = $  # comment` takes the preset's value of that key of the section above it. Comments that go on in the
next line begin there with two spaces and a #. The sections that a rig may lack are commented out throughout.
"""

from __future__ import annotations

from typing import Final

RIG_FILE: Final = """\
# A rig file: what you own that decides whether the pick-off prism finds a guide star.
# Lengths in millimetres, pixels in micrometres, angles in degrees, times in seconds; decimals with a point.
# Go through the numbers from the top and put in your own. Those of the prism matter most.
# A line that begins with # is not read; take the # away to use it.
#
# SAFETY: never point a telescope at or near the Sun to measure or to try any of this: focused sunlight blinds an eye
# at once and burns sensors and prism holders. Measure indoors, with the power off and the cover on.

name = $

[telescope]
focal_length_mm = $  # as used: with the corrector, reducer or extender in place
aperture_mm = $  # clear diameter of the objective or the primary mirror
central_obstruction_mm = $  # diameter of what stands in the middle of the light; 0 for a refractor
exit_pupil_mm = $  # from the focal plane to where the aperture stop seems to stand, seen from the camera.
  # Left out: the focal length, right for a simple refractor or a Newtonian. A compound
  # telescope: some 0.25 to 0.55 of the focal length. inf = telecentric. A corrector
  # shifts it; "guidestar rig show" says how much that can matter.
image_circle_mm = $  # diameter with useful light at the focal plane; left out: no limit
transmission = $  # share of the light that passes mirrors, lenses and glass together, 0 to 1
fwhm_arcsec = $  # diameter of a star on the guide camera at half its height, arcseconds, at the
  # zenith: seeing, off-axis blur and focus together

[camera]
# The main camera. Width runs from left to right and height from top to bottom of the displayed picture.
width_mm = $  # of the sensor
height_mm = $
pixel_um = $  # side of a pixel, unbinned
mirrored = $  # true if the displayed picture is mirrored: an odd number of reflections on the
  # way, or a display that flips it

[prism]
width_mm = $  # entrance face, along the edge of the frame (the tangent)
height_mm = $  # entrance face, outward from the axis, as the incoming light sees it
# How to measure offset_mm: take the pick-off out of the train. With a caliper, measure the bore that the main light
# passes; half of it is the distance from the axis to the wall. Measure how far the prism's inner edge stands in from
# that wall. Then offset_mm = bore / 2 - (how far it stands in) + height_mm / 2. Do it three times and take the
# mean. The jaws can chip the glass: touch the holder where you can, and close them by hand until they just meet.
offset_mm = $  # from the optical axis to the middle of the entrance face; more than height_mm / 2
offset_accuracy_mm = $  # how well you know it; with a caliper about 1 mm
# How to measure ahead_mm: with the caliper's depth rod, from the pick-off's flange on the camera side to the middle of
# the prism's entrance face (the one towards the telescope, not the slanted one), parallel to the axis. Add every
# spacer, ring and filter holder between that flange and the camera, and the way from the camera's front to its sensor.
ahead_mm = $  # from the entrance face to the main sensor, along the light
side = $  # the edge of the displayed main picture that darkens if the prism is pushed in too
  # far: "top", "left", "bottom" or "right"
side_deg = $  # instead of side, for a prism between the edges: 0 top, 90 left, 180 bottom, 270 right
transmission = $  # share of the light that the prism passes on, 0 to 1
holder_width_mm = $  # width of what holds the prism and casts a shadow with it; left out: width_mm
glass_path_mm = $  # way of the light through the glass; 0 for a mirror; left out: height_mm
glass_index = $  # refractive index of the glass

[guide_camera]
width_mm = $  # the side of the sensor that lies along the prism's width
height_mm = $  # the other side, which points outward from the axis
pixel_um = $  # side of a pixel, unbinned
turned_deg = $  # how far the guide sensor is turned against the prism: with the prism at the top of
  # the displayed main picture, from up towards the left
picture_mirrored = $  # the prism reflects once, so the guide picture is mirrored against the main one;
  # false if its display undoes that
quantum_efficiency = $  # share of the photons that are counted, mean over 400 to 900 nm, 0 to 1
read_noise_e = $  # electrons, one pixel, one reading
dark_e_per_s = $  # electrons a second, one pixel, at its working temperature
full_well_e = $  # electrons that one pixel holds
binning = $  # 1 = every pixel by itself, 2 = two by two, and so on

[guiding]
exposure_s = $  # one guide exposure
min_snr = $  # least signal-to-noise ratio of a star that you would guide on
min_peak_snr = $  # least height of its brightest pixel over the noise of a pixel: it has to be seen
airmass = $  # where no date is given; 1 = zenith, 2 = 30 degrees above the horizon
min_stars = $  # how many stars must be on the guide sensor at once
edge_margin_mm = $  # strip along each edge of the guide sensor that you would not use
faintest_mag = $  # Gaia G magnitude; if given, this limit holds everywhere and no light is reckoned
rotation_accuracy_deg = $  # how well you can set the camera's rotation

[mount]
kind = $  # "german" turns the camera by 180 degrees at the meridian; "fork", "altaz" do not
flip_after_min = $  # minutes from the target's transit to that turn; negative for a mount that turns before it

[sky]
brightness_mag_arcsec2 = $  # V magnitudes a square arcsecond, as a sky meter shows it: about 18 in a city, 22 at best
v_minus_g = $  # colour of the sky, V - G magnitudes; 0.7 is an estimate for a natural dark sky
extinction_mag = $  # magnitudes lost per airmass, G band

# Where you are: needed only for the question "when tonight". Take the # away from [site] and its keys together.
# [site]
# latitude_deg = 50.0  # north positive
# longitude_deg = 10.0  # east positive
# elevation_m = 0.0  # metres above the sea
# horizon_deg = 20.0  # lowest usable altitude, or [[azimuth, altitude], ...], azimuth from north through east
# time_zone = "Etc/UTC"  # a name of the tz database, such as "Europe/Paris"

# The parts between telescope and camera: needed only for the question "which spacers". The parts stand in the order
# that the light meets them; prism_at_mm, on the one that holds the prism, counts from its telescope side to the
# entrance face. Then ahead_mm may be left out above: it follows from the parts (the glass of a filter, which moves
# the focus a little, is ignored there).
# [train]
# back_focus_mm = 55.0  # what the corrector or reducer asks for, from its flange to the sensor
# camera_flange_mm = 17.5  # from the main camera's front to its sensor
# filter_thickness_mm = 2.0  # glass of the filter; 0 for none
# filter_index = 1.52  # its refractive index
# filter_bandwidth_nm = 7.0  # how much of the spectrum it passes; 7 for a narrow line filter, 300 for luminance
# spacers_mm = [2.0, 5.0, 10.0]  # lengths of the spacers that you own; one owned twice stands twice
# clear_aperture_mm = 42.0  # diameter of the narrowest tube or adapter that the light passes; left out: no limit
# clear_aperture_ahead_mm = 60.0  # from that opening to the main sensor; left out: where the train begins
# stalk_mm = 25.0  # from the prism's entrance face, round the reflection, to the drawn-in guide camera's seat
# focuser_travel_mm = 8.0  # how far the guide camera can be drawn out of there; 0 if it cannot be moved
# guide_flange_mm = 12.5  # from the guide camera's front to its sensor; 17.5, 12.5 and 6.5 are common
# order_rules = ["pick-off body before filter drawer"]  # by the names of the parts
# filter_at_mm, on the part that holds the filter (often a drawer of its own), counts likewise to the glass.
# parts = [{ name = "pick-off body", length_mm = 17.5, prism_at_mm = 9.0, filter_at_mm = 15.0 }]
"""
