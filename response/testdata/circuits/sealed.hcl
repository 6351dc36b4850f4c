title = "sealed"
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
chamber "box" {
  volume  = "42 L"
  leak_q  = 12
  leak_at = "50 Hz"
}
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
drive { power = "1 W" }
listen { radiation = "none" }
