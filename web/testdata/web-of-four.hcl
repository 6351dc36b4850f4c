# Invented: every chamber joined to every other, as no box is.
title = "Web of four"

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
chamber "aa" { volume = "0.8 L" }
chamber "bb" { volume = "1.4 L" }
chamber "cc" { volume = "2.2 L" }
chamber "dd" { volume = "3.0 L" }
mount "cone" {
  driver = driver.small
  front  = outside
  rear   = chamber.aa
}
port "atob" {
  from     = chamber.aa
  to       = chamber.bb
  diameter = "30 mm"
  length   = "40 mm"
}
port "atoc" {
  from     = chamber.aa
  to       = chamber.cc
  diameter = "30 mm"
  length   = "40 mm"
}
port "atod" {
  from     = chamber.aa
  to       = chamber.dd
  diameter = "30 mm"
  length   = "40 mm"
}
port "btoc" {
  from     = chamber.bb
  to       = chamber.cc
  diameter = "30 mm"
  length   = "40 mm"
}
port "btod" {
  from     = chamber.bb
  to       = chamber.dd
  diameter = "30 mm"
  length   = "40 mm"
}
port "ctod" {
  from     = chamber.cc
  to       = chamber.dd
  diameter = "30 mm"
  length   = "40 mm"
}
port "mouth" {
  from     = chamber.dd
  to       = outside
  diameter = "36 mm"
  length   = "60 mm"
}
port "side" {
  from     = chamber.bb
  to       = outside
  diameter = "20 mm"
  length   = "60 mm"
}
tones = ["112 Hz", "192 Hz"]
