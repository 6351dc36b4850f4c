# An invented entry of an invented winter trial of camper-van enclosures,
# built at 1:4 and played at four times the frequency.
title  = "Avocet"
author = "the lagoon bench"
notes  = "A front horn: a small throat chamber, two exponential sections, and a sealed chamber behind. Invented."

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

chamber "rear" { volume = "0.9 L" }
chamber "throat" { volume = "0.12 L" }

mount "cone" {
  driver = driver.small
  front  = chamber.throat
  rear   = chamber.rear
}

line "horn" {
  from = chamber.throat
  to   = outside
  section {
    length  = "260 mm"
    area    = "26 cm2"
    to_area = "60 cm2"
    shape   = "exponential"
  }
  section {
    length  = "300 mm"
    area    = "60 cm2"
    to_area = "180 cm2"
    shape   = "exponential"
  }
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
