title = "linked"
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
chamber "a" { volume = "78 L" }
chamber "b" {
  volume = "121 L"
  gross  = true
}
chamber "c" { volume = "97 L" }
mount "cone" {
  driver = driver.unit
  front  = chamber.c
  rear   = chamber.a
  count  = 2
}
port "ab" {
  from           = chamber.a
  to             = chamber.b
  diameter       = "100 mm"
  length         = "180 mm"
  count          = 3
  end_correction = ["8.6 mm", "15.8 mm"]
  inside         = ["60 mm", "80 mm"]
  wall_thickness = "3 mm"
  walls          = "ideal"
}
port "bout" {
  from     = chamber.b
  to       = outside
  diameter = "80 mm"
  length   = "340 mm"
  wall     = "900 cm2"
  walls    = "ideal"
}
port "cb" {
  from     = chamber.c
  to       = chamber.b
  diameter = "155 mm"
  length   = "255 mm"
  walls    = "ideal"
}
port "cout" {
  from     = outside
  to       = chamber.c
  diameter = "164 mm"
  length   = "188 mm"
  ends     = ["none", "free"]
  walls    = "ideal"
}
leak "gap" {
  from       = chamber.a
  to         = outside
  resistance = "2e4 Pa*s/m3"
}
drive { voltage = "9 V" }
listen { radiation = "none" }
