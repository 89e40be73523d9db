"""The kit file of the demo trip, as its photographer typed it: two slips of unit and some gaps included."""

KIT = """\
# What is in the bag. Millimetres throughout.
place = "Skarven"
latitude_deg = 66.0              # to the degree: enough for the height of the sun
longitude_deg = 14.0

[[body]]
name = "A"
model = "Brattholm Tarn"
serial = "3001234"
sensor_mm = [35.9, 24.0]
viewfinder = "electronic"

[[body]]
name = "B"                       # sensor size left to the files themselves
model = "Brattholm Beck"
serial = "5107780"
clock_ahead_s = 95               # compared with body A on the first evening
viewfinder = "optical"

[[lens]]
id = "w16"
exif = ["Sund 16-35 mm f4"]
thread_mm = 77
rig = "usual"
focal_mm = [16, 35]
pupil_depth_mm = 25.0            # from a test against a grey wall
pupil_depth_err_mm = 1.5
distortion_percent = 0           # the camera corrects its pictures

[[lens]]
id = "s24"
exif = ["Sund 24-70 mm f2.8"]
thread_mm = 77
rig = "usual"
focal_mm = [24, 70]

[[lens]]
id = "m24"                       # an old manual lens: the camera knows nothing about it
exif = []
thread_mm = 58
rig = "usual"
focal_mm = 24
no_contacts = true
f_number = 8

[[ring]]
id = "r77"
thread_mm = 77
kind = "standard"
bore_mm = 74
height_mm = 4

[[ring]]
id = "r77low"
thread_mm = 77
kind = "recessed"
bore_mm = 74
height_mm = 0.5

[[step_ring]]
id = "s58-77"                    # height and bore not measured
from_mm = 58
to_mm = 77

[[screw_in]]
id = "protect77"                 # protective glass
thread_mm = 77
height_mm = 5
bore_mm = 73

[[holder]]
id = "main"
slots = 2
bore_mm = 87
base_mm = 7.4
clear_width_mm = 96
slot_pitch_mm = 3.2
front_ring_mm = 98
front_ring_thickness_mm = 7.5

[[holder]]
id = "small"
slots = 2
bore_mm = 87
base_mm = 7.4
clear_width_mm = 96
slot_pitch_mm = 3.2

[[rig]]                          # what carries the filters, so that a line of frames need not say it
id = "usual"
ring = "r77"
holder = "main"

[[rig]]
id = "usual"
lens = "m24"
behind = ["s58-77"]
ring = "r77"
holder = "main"

[[rig]]
id = "low"
ring = "r77low"
holder = "main"

[[filter]]
id = "n3"
kind = "neutral"
stops = 3

[[filter]]
id = "n6"
kind = "neutral"
factor = 64
gasket = true

[[filter]]
id = "n10"
kind = "neutral"
stops = 10
gasket = true

[[filter]]
id = "n4"
kind = "neutral"
stops = 4                        # bought second-hand, never tried

[[filter]]
id = "dusk6"
kind = "neutral"
stops = 1.8                      # 1.8 is engraved on the mount

[[filter]]
id = "old3"
kind = "neutral"
density = 3

[[filter]]
id = "g2soft"
kind = "grad-soft"
density = 0.6

[[filter]]
id = "g3hard"
kind = "grad-hard"
factor = 8

[[filter]]
id = "pol"
kind = "polariser"
round = true
"""
