# A front horn: the throat loads the cone, the mouth meets the air. Bass horns
# are short for their wavelength: expect steps in the response.
title = "horn"

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

chamber "rear" { volume = "25 L" }
chamber "throat" { volume = "4 L" }

mount "cone" {
  driver = driver.bass
  front  = chamber.throat
  rear   = chamber.rear
}

line "horn" {
  from = chamber.throat
  to   = outside
  section {
    length  = "1.6 m"
    area    = "180 cm2"
    to_area = "1200 cm2"
    shape   = "exponential"
  }
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
