"""The commented file that a new job starts from: every part of a job, nothing claimed."""

from __future__ import annotations

_STARTER = """# Job file for Slackwater: one rebuild of one tank.
#
# Take away the "#" in front of a line and put in what you know. What you leave out is "not known yet": the plan
# says which part it cannot compute without it. Nothing is taken as zero.
# Write quantities in quotes with their unit: "42 cm", "16 1/2 in", "12 dGH", "2.6 bar", "76 F", "22:30".
# Dates and times are local to the site: "2027-02-10 06:30".

format = 1
name = "{name}"
# reference = "my own job number"
# client = "Hotel Example"        # whom the job is for, as the offer names them
# surveyed = 2027-02-01
# client_informed = true          # unfed for 24 h, light off in the morning
# animals_ill = false             # true stops the job: a vet first
# livestock = []                  # this line means: there are no animals
# stones = []                     # this line means: no stones
# wood = []                       # this line means: no wood

[site]
# name = "waiting room"
# care_setting = false            # clinics, care homes: infection-control rules apply
# time_zone = "Europe/Berlin"
# altitude = "120 m"
# room_temperature = "20 C"
# room_volume = "180 m3"          # for the carbon dioxide check
# key_holder_leaves = "2027-02-10 18:10"
# seen_from = "2027-02-10 19:00"  # when guests see the tank again
# closed_days = [2027-02-13, 2027-02-14]
# visits_from = "09:00"           # hours in which care visits are let in
# visits_until = "11:30"
# rules = ["no work at the reception sink"]

# [[site.windows]]                # when you may be on site; repeat for each span
# kind = "day"                    # day, prepare (water may be made), or reserve
# start = "2027-02-10 06:30"
# end = "2027-02-10 18:00"

# [[site.quiet]]                  # no wet-vac, no hammer; silent work goes on
# start = "2027-02-10 12:30"
# end = "2027-02-10 13:00"

[site.route]
# distance = "22 m"               # van to tank, one way
# thresholds = 1
# ramps = 0
# storeys_by_stairs = 0
# door_clear_width = "88 cm"

# [site.lift]                     # only if a lift is used
# cage_length = "140 cm"
# cage_width = "110 cm"
# rated_load = "630 kg"
# out_of_order = [{{ start = "2030-05-01 12:00", end = "2030-05-01 13:00" }}]

[site.floor]
# stated_load = "5.0 kN/m2"       # from the building file or an engineer; never guess
# stated_by = "building file"

# [[site.circuits]]
# name = "waiting room"
# rating = "16 A"
# voltage = "230 V"
# rcd_tested = true

[site.tap]
# distance = "14 m"
# flow = "9 L/min"
# pressure = "2.6 bar"
# temperature = "11 C"
# softener = false

[site.drain]
# distance = "14 m"
# flow = "30 L/min"
# permitted = true

[tank]                            # inside dimensions
# length = "118 cm"
# width = "42 cm"
# height = "46 cm"
# footprint = [{{ x = "0 cm", y = "0 cm" }}, {{ x = "90 cm", y = "0 cm" }}, {{ x = "60 cm", y = "60 cm" }}]  # instead of length and width
# wall = "10 mm"
# material = "glass"              # glass, low-iron glass or acrylic
# braced = true
# seam_damage = false
# water_line = "42 cm"            # from the bottom glass
# previous_water_line = "42 cm"
# rim_height = "121 cm"           # above the floor
# bow = "8 cm"                    # only a bowed front: how far its middle stands out
# public_sides = ["front", "rear"]
# openings = [{{ length = "36 cm", width = "36 cm" }}]
# braces_across = 2               # where the openings are not measured: fixed bars from front to rear,
# brace_width = "14 cm"           # and how wide each is
# glass_and_stand = "95 kg"
# stand_length = "122 cm"
# stand_width = "46 cm"

# [[filters]]
# media = "4 L"
# rated_flow = "1000 L/h"
# measured_flow = "620 L/h"

# [[heaters]]
# power = "150 W"
# count = 2

# [light]
# lamps = [{{ power = "60 W", count = 2, photon_flux = "120 umol/s", length = "90 cm", above_water = "15 cm" }}]
# water_colour = "clear"          # or tea, dark

# [co2]
# cylinder = "2 kg"

[old]                             # what comes out
# soil_depth = "7 cm"
# planted_area = "0.30 m2"
# cover_factor = 1.2              # 1 open planting, 2.5 a dense root mat
# hardscape = "22 kg"

[water.tap]
# date = 2027-02-01
# method = "drop tests"           # or strips, photometer, laboratory report: how sure the readings are
# temperature = "11 C"
# ph = 7.6
# gh = "14 ± 1 dGH"               # a reading may carry its error
# kh = "9 dKH"
# conductivity = "560 uS/cm"
# nitrate = "18 mg/L"
# calcium = "80 mg/L"             # from the water company's report, as far as you have it
# magnesium = "12 mg/L"
# sodium = "14 mg/L"
# potassium = "2 mg/L"
# chloride = "38 mg/L"
# sulfate = "52 mg/L"
# tan = "< 0.02 mg/L"             # below what the test can show
# free_chlorine = "0 mg/L"
# combined_chlorine = "0.4 mg/L"  # chloramine

[water.tank]
# date = 2027-02-01
# temperature = "24.6 C"
# ph = 7.3
# gh = "13 dGH"
# kh = "7 dKH"
# tan = "0.05 mg/L"               # total ammonia, as nitrogen
# nitrate = "55 mg/L"             # as NO3

# [[water.other]]                 # rain water, bought permeate, a second tap
# name = "rain water"
# litres = "200 L"
# place = "site"                  # or workshop: then it is carried in
# gh = "0.5 dGH"
# kh = "0.3 dKH"

[target]
# ph_low = 6.6
# ph_high = 7.0
# gh_low = "7 dGH"
# gh_high = "9 dGH"
# kh_low = "3 dKH"
# kh_high = "4 dKH"
# temperature = "24.5 C"
# nitrate_high = "30 mg/L"
# sodium_high = "40 mg/L"
# potassium_high = "20 mg/L"
# conductivity_high = "450 uS/cm"
# calcium_per_magnesium_low = 2.0 # by mol
# calcium_per_magnesium_high = 5.0

# [[livestock]]
# species = "trigonostigma_heteromorpha"
# count = "24 ± 2"                # 24, "24 ± 2", "40-120" or "uncounted"
# keep = true                     # false: the client does not want them back

# [[containers]]                  # boxes, tubs and barrels on hand
# container = "box_45"
# count = 2

# [[people]]
# id = "lead"
# speed = 1.0                     # 0.8: four fifths of your own pace
# hourly_rate = 48
# break = "30 min"
# break_from = "11:00"
# break_until = "15:00"
# longest_stretch = "6 h"         # without a break
# from = "2027-02-10 08:00"       # left out: there all day
# until = "2027-02-10 15:00"
# on_call = false                 # true: not booked, but can be called
# minimum_hours = 3               # paid at least, once called
# skills = ["lead"]               # entered for anybody, only who has "lead" may decide go or no-go

# [bed]
# [bed.shape]
# form = "ridge"                  # edges, ridge, gable, mound or corners
# edge = "4 cm"
# top = "10 cm"
# [bed.soil]
# material = "active_soil_lean"
# bag = "9 L"
# bag_price = 26

# [[stones]]
# material = "stone_clay_pitted"
# pieces = ["6.4 kg", "5.1 kg"]
# sizes = ["24 x 18 x 17 cm", "21 x 16 x 15 cm"]  # length, width and height as each will stand, in that order
# look = "pitted"                 # rounded, angular, slab or pitted; left out: by the kind
# price_per_kg = 6.5
# mesh = "main-stone.glb"         # a scan of the first piece, beside this file
# mesh_length = "26 cm"           # its longest side; left out, the weight gives the scan its size

# [[wood]]
# material = "wood_branching_root"
# mass = "1.9 kg"
# size = "55 x 30 x 25 cm"

[layout]
# scene = "layout.glb"            # a saved layout beside this file; left out, the plan takes a proposal
# intent = "open_middle"          # one_end, diagonal, island, open_middle or path
# seated_eye = "1.2 m"            # above the floor
# standing_eye = "1.6 m"
# viewing_distance = "1.5 m"

# [[plants]]
# plant = "cryptocoryne_wendtii"
# units = 9
# unit_price = 5

[planting]                        # if plants are proposed, because none or too few are named
# budget = 300
# most_species = 10
# fast_share = 0.3                # of the planting on the first day: fast growers take up ammonium
# unavailable = ["microsorum_pteropus"]

[preparation]
# heater = "300 W"                # for the barrel
# tap_allowed = true
# pump_flow = "30 L/min"          # measured; or its label:
# pump_free_flow = "60 L/min"
# pump_head = "4 m"
# hose_bore = "19 mm"
# hose_length = "15 m"
# salts = []                      # this line means: no salts; left out, gypsum and Epsom salt are ordered
# [[preparation.salts]]
# salt = "gypsum"
# amount = "500 g"
# purity = 0.98                   # from the label
# [preparation.ro]
# rated_flow = "380 L/day"
# rated_pressure = "4 bar"
# feed_pressure = "2.6 bar"
# feed_temperature = "11 C"
# may_run_from = "2027-02-08 16:00"
# may_run_until = "2027-02-10 06:30"

# [[goods]]                       # things whose age matters
# item = "hydrogen_peroxide_3"
# opened = 2027-01-20
# expires = 2027-12-31
# strength_percent = 3

[van]
# payload = "900 kg"
# crew_mass = "160 kg"
# drive_one_way = "25 min"
# distance_one_way = "14 km"

[price]
# currency = "cr"
# overhead_share = 0.18
# margin_share = 0.25
# tax_share = 0.0
# risk_share = 0.1                # the fixed price is to carry the job but for one in ten; left out: several are shown
# loss_cost = 300                 # what lost animals cost you where a clock is not kept
# client_budget = 3400
# deposit_share = "30 %"          # paid before the day
# terms = ["loss and damage: as agreed in writing"]  # they stand on the offer

# [[price.options]]               # each is planned and priced by itself; none: the job as it stands
# name = "Good"
# changes = ["carpet_later", "fewer_plants"]  # richer_planting, longer_care; left out: as asked

[papers]
# language = "en"                 # of everything that leaves the office: "en", "de"
# size = "a4"                     # or "letter"

[contract]
# visit_time = "80 min"
# visits = [{{ days = [1, 2, 5] }}, {{ from_day = 19, every_days = 7 }}]
# taken_days = [2027-02-12]       # days that belong to other clients
# ends = 2027-08-31               # last day of the contract: visits without a to_day go on until then

[brief]
# wishes = ["hand reach to all glass"]
# crew_notes = ["sill of 12 cm at the back door"]  # they stand on the day sheet
# may_be_left_out = {{ E21 = "20 min" }}  # work the day can do without, and how much later it may end for it

# [[past_jobs]]                   # what your own jobs took; one entry for each activity of a job
# activity = "E22"                # as on the day sheet
# planned = "65 min"              # by the catalog, for that job's quantity and crew
# actual = "80 min"
# date = 2026-11-12
# crew = ["lead", "helper"]       # counts when one of them is booked; left out: always
"""


def starter_text(name: str) -> str:
    """The starter file for a job of this name."""
    return _STARTER.format(name=name.replace("\\", "").replace('"', ""))
