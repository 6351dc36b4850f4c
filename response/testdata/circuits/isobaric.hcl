title = "isobaric"
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
  displacement = "2.1 L"
}
chamber "between" { volume = "6 L" }
chamber "box" {
  size    = ["300 mm", "380 mm", "420 mm"]
  gross   = true
  bracing = "0.9 L"
}
mount "outer" {
  driver   = driver.unit
  front    = outside
  rear     = chamber.between
}
mount "inner" {
  driver   = driver.unit
  front    = chamber.box
  rear     = chamber.between
  reversed = true
}
port "vent" {
  from     = chamber.box
  to       = outside
  diameter = "90 mm"
  length   = "240 mm"
  inside         = ["220 mm", "0 mm"]
  wall_thickness = "4 mm"
  walls    = "ideal"
}
drive {
  power             = "10 W"
  wiring            = "series"
  source_resistance = "0.1 ohm"
}
listen { radiation = "none" }
