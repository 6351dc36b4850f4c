title = "bandpass-two-sided"
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
chamber "rear" { volume = "55 L" }
chamber "front" { volume = "21 L" }
mount "cone" {
  driver = driver.unit
  front  = chamber.front
  rear   = chamber.rear
}
port "low" {
  from     = chamber.rear
  to       = outside
  diameter = "100 mm"
  length   = "320 mm"
  ends     = ["free", "flush"]
  walls    = "ideal"
}
port "high" {
  from       = chamber.front
  to         = outside
  area       = "130 cm2"
  length     = "120 mm"
  resistance = "40 Pa*s/m3"
  walls      = "ideal"
}
drive { voltage = "2.83 V" }
listen { radiation = "none" }
