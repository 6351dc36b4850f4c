title = "passive"
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
chamber "box" { volume = "70 L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
}
passive "drone" {
  sd    = "880 cm2"
  mms   = "250 g"
  cms   = "0.29 mm/N"
  rms   = "1.15 N*s/m"
  front = outside
  rear  = chamber.box
}
passive "pair" {
  sd    = "220 cm2"
  fs    = "19 Hz"
  qms   = 8
  vas   = "60 L"
  count = 2
  front = chamber.box
  rear  = outside
}
drive { voltage = "2.83 V" }
listen { radiation = "none" }
