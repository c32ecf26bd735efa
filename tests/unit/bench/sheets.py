"""Sheets in which together every key of the format occurs. Invented engines."""

BASE = """\
format = "pulsewright setup 1"
name = "every key"

[engine]
cylinders = 2
bore = "96 mm"
stroke = "96 mm"
rod = "190 mm"
compression_ratio = 9.2
firing = [0, 412]
cooling = "air"
[engine.intake_valve]
count = 1
diameter = "46 mm"
lift = "11.2 mm"
opens = "22 deg BTDC"
closes = "54 deg ABDC"
check_lift = "1.27 mm"
flow_factor = 1.05
[engine.exhaust_valve]
count = 1
diameter = "40 mm"
lift = "11.2 mm"
opens = "54 deg BBDC"
closes = "22 deg ATDC"
check_lift = "1.27 mm"
flow_factor = 1.05
[engine.intake_port]
length = "90 mm"
bore = "42 mm"
[engine.exhaust_port]
length = "70 mm"
bore = "40 mm"

[ignition]
advance = [[1000, 12], [6000, 32]]

[fuel]
kind = "custom"
stoichiometric_afr = 14.6
density = "745 kg/m^3"
heating_value = "43 MJ/kg"
latent_heat = "0.35 MJ/kg"
hydrogen_per_carbon = 1.87
oxygen_per_carbon = 0.0
octane = 95

[[carburettor]]
kind = "fixed venturi"
feeds = [1, 2]
venturi = "38 mm"
throttle_bore = "44 mm"
body_length = "55 mm"
venturi_from_front = "25 mm"
main_jet = "1.85 mm"
main_air_bleed = "1.00 mm"
emulsion_tube = [ { below = "3 mm", holes = 2, bore = "1.0 mm" }, { below = "12 mm", holes = 4, bore = "1.0 mm" } ]
pump_volume = "0.6 cm^3"
pump_time = "0.3 s"
main_nozzle = "3.5 mm"
nozzle_lip = "8 mm"
intermediate_jet = "0.75 mm"
intermediate_air_bleed = "1.20 mm"
idle_outlet = "0.70 mm"
throttle = "100 %"
bowl_vent = "outside"
throttle_closed_angle = "8 deg"

[air]
temperature = "18 degC"
pressure = "100.2 kPa"
humidity = "45 %"
"""

MUFFLED_TWIN = (
    BASE
    + """
[intake]
mouth = "filter"
loss = 1.5
plenum = "5 l"
wall_film = "30 %"
film_split.1 = "60 %"
film_split.2 = "40 %"
before_carburettor = [ { length = "60 mm", bore = "50 mm" } ]
after_carburettor = [ { length = "50 mm", bore = "44 mm" } ]
branch.1 = [ { length = "90 mm", bore = "42 mm" } ]
branch.2 = [ { length = "90 mm", bore_in = "44 mm", bore_out = "42 mm" } ]

[exhaust]
route.1 = [
  { piece = "pipe", length = "900 mm", bore = "44 mm", wall = "single", bends = [90, 45] },
  { piece = "cross-bolt", diameter = "8 mm", from_end = "50 mm" },
  { piece = "plate", width = "14 mm", angle = "45 deg", from_end = "40 mm" },
  { piece = "disc", open_area_fraction = "60 %" },
  { piece = "crossover", to = 2, at = "400 mm", bore = "20 mm", length = "150 mm" },
  { piece = "end", kind = "open" },
]
route.2 = [
  { piece = "pipe", length = "600 mm", bore_in = "44 mm", bore_out = "50 mm", wall = "wrapped" },
  { piece = "valve", bore = "50 mm", angle_by_rpm = [[2000, 40], [4000, 0]] },
  { piece = "muffler", body_length = "400 mm", body_bore = "98 mm", core_bore = "36 mm", core = "perforated packed", \
chambers = 1, open_area_fraction = 0.5, packing = "aged" },
  { piece = "pipe", length = "200 mm", bore = "40 mm" },
  { piece = "insert", length = "150 mm", bore = "30 mm", packed = true },
  { piece = "end", kind = "flanged" },
]
lambda_sensor.1 = "300 mm"
"""
)

# The keys that exclude some of the others: a pressure drop, a collector, a lift table, a stamped jet, a needle.
NEEDLE = """\
needle_jet = "2.90 mm"
needle_diameter = "2.80 mm"
needle_taper = "2.2 deg"
needle_straight = "6 mm"
needle_clip = 3
needle_clip_pitch = "0.9 mm"
"""
SUCTION = f"""\
kind = "constant velocity"
feeds = [1]
{NEEDLE}\
piston_mass = "85 g"
piston_diameter = "64 mm"
piston_vent = "2.5 mm"
spring_down = "1.4 N"
spring_up = "3.2 N"
"""
SLIDE = f"""
[[carburettor]]
kind = "slide"
feeds = [2]
venturi = "38 mm"
throttle_bore = "40 mm"
body_length = "60 mm"
venturi_from_front = "28 mm"
main_jet = "1.60 mm"
main_air_bleed = "0.50 mm"
nozzle_lip = "8 mm"
intermediate_jet = "0.50 mm"
intermediate_air_bleed = "1.20 mm"
idle_outlet = "0.70 mm"
throttle = "40 %"
cutaway = "3 mm"
{NEEDLE}"""
COLLECTOR_TWIN = (
    BASE.replace('kind = "fixed venturi"\nfeeds = [1, 2]\n', SUCTION)
    .replace('main_nozzle = "3.5 mm"\n', "")
    .replace('main_jet = "1.85 mm"', 'main_jet = { number = 185, means = "hundredths of a millimetre" }')
    .replace(
        'intermediate_jet = "0.75 mm"',
        'intermediate_jet = { number = 80, means = "cc per minute", head = "0.5 m", discharge_coefficient = 0.8 }',
    )
    .replace(
        'check_lift = "1.27 mm"\nflow_factor = 1.05\n[engine.exhaust_valve]',
        'check_lift = "1.27 mm"\nflow_factor = 1.05\nlift_table = [[320, "0 mm"], [360, "2.8 mm"], [466, "11.2 mm"],'
        ' [572, "2.8 mm"], [612, "0 mm"]]\n[engine.exhaust_valve]',
    )
    + SLIDE
    + """
[intake]
mouth = "filter"
pressure_drop = "0.4 kPa"
at_flow = "3000 l/min"

[exhaust]
route.1 = [ { piece = "pipe", length = "700 mm", bore = "44 mm" }, { piece = "join", into = "collector 1" } ]
route.2 = [ { piece = "pipe", length = "700 mm", bore = "44 mm" }, { piece = "join", into = "collector 1" } ]
after."collector 1" = [
  { piece = "pipe", length = "500 mm", bore = "50 mm" },
  { piece = "valve", bore = "50 mm", angle = "30 deg" },
  { piece = "end", kind = "open" },
]
lambda_sensor."collector 1" = "200 mm"
"""
)
