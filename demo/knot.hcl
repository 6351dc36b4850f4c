# An invented entry of an invented winter trial of camper-van enclosures,
# built at 1:4 and played at four times the frequency.
title  = "Knot"
author = "the estuary bench"
notes  = "Sealed, with a little wadding. Invented."

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

chamber "box" {
  volume           = "2.2 L"
  fill             = "40 %"
  flow_resistivity = "4500 Pa*s/m2"
}

mount "cone" {
  driver = driver.small
  front  = outside
  rear   = chamber.box
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
