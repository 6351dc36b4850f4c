# An invented entry of an invented winter trial of camper-van enclosures,
# built at 1:4 and played at four times the frequency.
title  = "Curlew"
author = "the mudflat bench"
notes  = "One chamber with a passive radiator in place of a port. Invented."

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

chamber "box" { volume = "2.4 L" }

mount "cone" {
  driver = driver.small
  front  = outside
  rear   = chamber.box
}

passive "drone" {
  sd    = "51 cm2"
  mms   = "9 g"
  cms   = "0.4 mm/N"
  rms   = "0.35 N*s/m"
  xmax  = "5 mm"
  front = outside
  rear  = chamber.box
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
