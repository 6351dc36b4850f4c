# An invented entry of an invented winter trial of camper-van enclosures,
# built at 1:4 and played at four times the frequency.
title  = "Sandpiper"
author = "the tideline bench"
notes  = "A ladder: four chambers in a row, each with a tube into the next. Invented."

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

chamber "one" { volume = "0.6 L" }
chamber "two" { volume = "0.7 L" }
chamber "three" { volume = "0.8 L" }
chamber "four" { volume = "1.0 L" }

mount "cone" {
  driver = driver.small
  front  = outside
  rear   = chamber.one
}

port "a" {
  from     = chamber.one
  to       = chamber.two
  diameter = "38 mm"
  length   = "24 mm"
}

port "b" {
  from     = chamber.two
  to       = chamber.three
  diameter = "38 mm"
  length   = "24 mm"
}

port "c" {
  from     = chamber.three
  to       = chamber.four
  diameter = "38 mm"
  length   = "24 mm"
}

port "mouth" {
  from     = chamber.four
  to       = outside
  diameter = "40 mm"
  length   = "50 mm"
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
