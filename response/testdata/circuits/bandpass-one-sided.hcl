title = "bandpass-one-sided"
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
chamber "rear" { size = ["250 mm", "300 mm", "400 mm"] }
chamber "front" { volume = "24 L" }
mount "cone" {
  driver = driver.unit
  front  = chamber.front
  rear   = chamber.rear
}
port "mouth" {
  from   = chamber.front
  to     = outside
  size   = ["40 mm", "220 mm"]
  length = "150 mm"
  ends   = ["slot", "flush"]
  walls  = "ideal"
}
drive { voltage = "4 V" }
listen { radiation = "none" }
