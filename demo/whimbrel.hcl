# An invented entry of an invented winter trial of camper-van enclosures,
# built at 1:4 and played at four times the frequency.
title  = "Whimbrel"
author = "the moor bench"
notes  = "An isobaric pair: two drivers face the same small chamber and work as one on a ported box. Invented."

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

chamber "between" { volume = "0.18 L" }
chamber "box" { volume = "1.7 L" }

mount "outer" {
  driver = driver.small
  front  = outside
  rear   = chamber.between
}

mount "inner" {
  driver = driver.small
  front  = chamber.between
  rear   = chamber.box
}

port "vent" {
  from     = chamber.box
  to       = outside
  diameter = "36 mm"
  length   = "78 mm"
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
