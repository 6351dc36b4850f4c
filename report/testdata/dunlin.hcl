title = "Dunlin"

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

chamber "near" { volume = "0.95 L" }
chamber "far" { size = ["110 mm", "140 mm", "150 mm"] }

mount "cone" {
  driver = driver.small
  front  = outside
  rear   = chamber.near
}
port "inner" {
  from     = chamber.near
  to       = chamber.far
  diameter = "36 mm"
  length   = "30 mm"
}
port "mouth" {
  from   = chamber.far
  to     = outside
  size   = ["24 mm", "55 mm"]
  length = "70 mm"
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
