# An invented entry of an invented winter trial of camper-van enclosures,
# built at 1:4 and played at four times the frequency.
title  = "Sanderling"
author = "the tideline bench"
notes  = "One chamber, one port. Invented."

driver "small" {
  re    = "3.3 ohm"
  le    = "0.21 mH"
  fs    = "88 Hz"
  qms   = 4.2
  qes   = 0.68
  vas   = "1.25 L"
  sd    = "51 cm2"
  xmax  = "2.6 mm"
  power = "20 W"
}

chamber "box" { size = ["130 mm", "160 mm", "170 mm"] }

mount "cone" {
  driver = driver.small
  front  = outside
  rear   = chamber.box
}

port "vent" {
  from     = chamber.box
  to       = outside
  diameter = "42 mm"
  length   = "68 mm"
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
