# An invented entry of an invented winter trial of camper-van enclosures,
# built at 1:4 and played at four times the frequency.
title  = "Turnstone"
author = "the harbour wall bench"
notes  = "Two-sided bandpass (sixth order): a port from either side of the cone. Invented."

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

chamber "rear" { volume = "2.6 L" }
chamber "front" { volume = "1.1 L" }

mount "cone" {
  driver = driver.small
  front  = chamber.front
  rear   = chamber.rear
}

port "low" {
  from     = chamber.rear
  to       = outside
  diameter = "38 mm"
  length   = "85 mm"
}

port "high" {
  from     = chamber.front
  to       = outside
  diameter = "48 mm"
  length   = "30 mm"
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
