# An invented entry of an invented winter trial of camper-van enclosures,
# built at 1:4 and played at four times the frequency.
title  = "Plover"
author = "the shingle bench"
notes  = "One-sided bandpass (fourth order): sealed behind the cone, all sound through the front chamber's port. Invented."

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

chamber "rear" { volume = "1.3 L" }
chamber "front" { volume = "1.15 L" }

mount "cone" {
  driver = driver.small
  front  = chamber.front
  rear   = chamber.rear
}

port "mouth" {
  from     = chamber.front
  to       = outside
  diameter = "46 mm"
  length   = "42 mm"
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
