title = "stepped-line"
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
junction "throat" {}
chamber "mid" { volume = "3.3 L" }
mount "cone" {
  driver = driver.unit
  front  = outside
  rear   = junction.throat
}
line "stub" {
  from  = junction.throat
  to    = closed
  walls = "ideal"
  section {
    length = "190 mm"
    area   = "290 cm2"
  }
  section {
    length = "500 mm"
    size   = ["100 mm", "240 mm"]
  }
}
line "spur" {
  from  = closed
  to    = chamber.mid
  walls = "ideal"
  section {
    length = "260 mm"
    area   = "90 cm2"
  }
  section {
    length   = "170 mm"
    diameter = "140 mm"
  }
}
line "path" {
  from  = junction.throat
  to    = chamber.mid
  walls = "ideal"
  section {
    length = "480 mm"
    area   = "250 cm2"
  }
  section {
    length = "510 mm"
    area   = "400 cm2"
  }
}
line "exit" {
  from  = outside
  to    = chamber.mid
  walls = "ideal"
  section {
    length = "400 mm"
    area   = "380 cm2"
  }
  section {
    length = "560 mm"
    area   = "230 cm2"
  }
}
drive { voltage = "5.9 V" }
listen { radiation = "none" }
