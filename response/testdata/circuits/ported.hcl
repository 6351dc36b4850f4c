title = "ported"
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
chamber "box" { volume = "80 L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
port "vent" {
  from     = chamber.box
  to       = outside
  diameter = "75 mm"
  length   = "190 mm"
  count    = 2
  walls    = "ideal"
}
drive {
  voltage           = "2.83 V"
  source_resistance = "0.2 ohm"
}
listen { radiation = "none" }
