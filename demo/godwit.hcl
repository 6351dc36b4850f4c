# An invented entry of an invented winter trial of camper-van enclosures,
# built at 1:4 and played at four times the frequency.
title  = "Godwit"
author = "the reed bed bench"
notes  = "A tapered line, folded in the van's wall: the cone sits a fifth of the way along, the fat end is closed. Invented."

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

junction "throat" {}

mount "cone" {
  driver = driver.small
  front  = outside
  rear   = junction.throat
}

line "stub" {
  from = closed
  to   = junction.throat
  section {
    length = "150 mm"
    area   = "62 cm2"
  }
}

line "path" {
  from = junction.throat
  to   = outside
  section {
    length  = "320 mm"
    area    = "60 cm2"
    to_area = "44 cm2"
    shape   = "conical"
  }
  section {
    length  = "270 mm"
    area    = "44 cm2"
    to_area = "30 cm2"
    shape   = "conical"
  }
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
