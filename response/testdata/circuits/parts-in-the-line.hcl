title = "parts-in-the-line"
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
chamber "box" { volume = "55 L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = chamber.box
  count  = 2
}
line "mouth" {
  from  = chamber.box
  to    = outside
  walls = "ideal"
  section {
    length = "700 mm"
    area   = "120 cm2"
  }
}
drive {
  voltage           = "8 V"
  source_resistance = "0.2 ohm"
  filter {
    kind       = "series"
    resistance = "0.15 ohm"
    inductance = "4 mH"
  }
  filter {
    kind        = "shunt"
    resistance  = "2 ohm"
    capacitance = "300 uF"
  }
  filter {
    kind        = "series"
    capacitance = "1500 uF"
  }
}
listen { radiation = "none" }
