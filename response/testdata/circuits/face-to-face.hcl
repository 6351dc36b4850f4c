title = "face-to-face"
air {
  density = "1.19 kg/m3"
  speed   = "345.1 m/s"
}
driver "unit" {
  re  = "5.7 ohm"
  le  = "0.8 mH"
  sd  = "490 cm2"
  fs  = "31 Hz"
  qms = 5.1
  qes = 0.43
  vas = "96 L"
}
driver "other" {
  re  = "3.2 ohm"
  le  = "0.5 mH"
  sd  = "330 cm2"
  fs  = "38 Hz"
  qms = 4
  qes = 0.5
  vas = "40 L"
}
chamber "left" { volume = "30 L" }
chamber "right" { volume = "45 L" }
chamber "common" { volume = "20 L" }
mount "first" {
  driver = driver.unit
  front  = chamber.common
  rear   = chamber.left
  count  = 2
  wiring = "series"
}
mount "second" {
  driver   = driver.other
  front    = chamber.right
  rear     = chamber.common
  count    = 2
  reversed = true
}
port "mouth" {
  from     = chamber.common
  to       = outside
  diameter = "150 mm"
  length   = "200 mm"
  walls    = "ideal"
}
drive { voltage = "6 V" }
listen { radiation = "none" }
