"""Targets as a brewer writes them."""

THREE_POURS = """\
title   = "Three pours"
method  = "pour-over"
dose_g  = 15.0
water_c = 94.0
end     = "2:30"

[[stage]]
name     = "bloom"
start    = "0:00"
to_g     = 45.0
flow_g_s = 5.0

[[stage]]
name  = "pour 1"
start = "0:40"
to_g  = 140

[[stage]]
name  = "pour 2"
start = "1:20"
to_g  = 240
"""

ESPRESSO = """\
title  = "The shot of the set"
method = "espresso"
dose_g = 18.0
[shot]
yield_g    = 36.0
time       = ["0:25", "0:32"]
first_drip = ["0:05", "0:09"]
"""

IMMERSION = """\
title  = "Steeped"
method = "immersion"
dose_g = 15.0
end    = "4:00"
[[stage]]
name  = "all in"
start = "0:00"
to_g  = 240
"""

TARGETS = {"pour-over": THREE_POURS, "espresso": ESPRESSO, "immersion": IMMERSION}
