# Linked chambers: the cone between two of them, both open into a third. Each
# opening adds a resonance; explain says which is whose.
title = "linked"

# The driver, from its data sheet. Re, Sd and fs, Qms, Qes, Vas are enough;
# mms, cms, rms and bl fill only what is missing.
driver "bass" {
  re    = "3.6 ohm"
  le    = "1.1 mH"
  fs    = "31 Hz"
  qms   = 5.0
  qes   = 0.48
  vas   = "48 L"
  sd    = "340 cm2"
  xmax  = "6 mm"  # travel one way that stays linear
  power = "300 W" # what the coil bears for long
}

chamber "behind" { volume = "30 L" }
chamber "middle" { volume = "50 L" }
chamber "ahead" { volume = "28 L" }

mount "cone" {
  driver = driver.bass
  front  = chamber.ahead
  rear   = chamber.behind
}

port "back" {
  from     = chamber.behind
  to       = chamber.middle
  diameter = "110 mm"
  length   = "120 mm"
}

port "link" {
  from     = chamber.ahead
  to       = chamber.middle
  diameter = "90 mm"
  length   = "150 mm"
}

port "low" {
  from     = chamber.middle
  to       = outside
  diameter = "120 mm"
  length   = "260 mm"
}

port "high" {
  from     = chamber.ahead
  to       = outside
  diameter = "130 mm"
  length   = "180 mm"
}

# The amplifier. Fuse its supply close to the battery and size the cable to the
# fuse; follow local codes, and ask a licensed person where they say so.
drive {
  voltage = "2.83 V"
  # power = "100 W"       instead of a voltage: into the drivers' resistance
  # max_voltage = "40 V"  what the amplifier can give before it clips
}

# Where the level is read: 1 m away on the floor of an open field is the default.
# listen { distance = "1 m", space = "half" }

# Tones to report on.
tones = ["28 Hz", "36 Hz", "48 Hz", "63 Hz"]
