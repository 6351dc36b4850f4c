title = "two-in-series"
air {
  density = "1.19 kg/m3"
  speed   = "345.1 m/s"
}
driver "small" {
  re  = "3.3 ohm"
  sd  = "51 cm2"
  fs  = "88 Hz"
  qms = 4.2
  qes = 0.68
  vas = "1.25 L"
  coil {
    le = "0.09 mH"
    l2 = "0.3 mH"
    r2 = "1.7 ohm"
  }
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
  walls    = "ideal"
}
port "mouth" {
  from   = chamber.far
  to     = outside
  size   = ["24 mm", "55 mm"]
  length = "70 mm"
  walls  = "ideal"
}
drive {
  voltage          = "2.83 V"
  coil_temperature = "90 C"
}
listen { radiation = "none" }
