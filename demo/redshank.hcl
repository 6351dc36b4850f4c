# An invented entry of an invented winter trial of camper-van enclosures,
# built at 1:4 and played at four times the frequency.
title  = "Redshank"
author = "the salt marsh bench"
notes  = "Three linked chambers: the cone between two of them, both open into the third and to the outside. Invented."

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

chamber "behind" { volume = "1.0 L" }
chamber "middle" { volume = "1.6 L" }
chamber "ahead" { volume = "1.1 L" }

mount "cone" {
  driver = driver.small
  front  = chamber.ahead
  rear   = chamber.behind
}

port "back" {
  from     = chamber.behind
  to       = chamber.middle
  diameter = "34 mm"
  length   = "40 mm"
}

port "link" {
  from     = chamber.ahead
  to       = chamber.middle
  diameter = "30 mm"
  length   = "55 mm"
}

port "low" {
  from     = chamber.middle
  to       = outside
  diameter = "40 mm"
  length   = "80 mm"
}

port "high" {
  from     = chamber.ahead
  to       = outside
  diameter = "44 mm"
  length   = "45 mm"
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
