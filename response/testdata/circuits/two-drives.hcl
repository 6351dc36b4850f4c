title = "two-drives"
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
chamber "low" { volume = "60 L" }
chamber "high" { volume = "30 L" }
mount "one" {
  driver = driver.unit
  front  = outside
  rear   = chamber.low
  drive  = drive.bottom
}
mount "two" {
  driver = driver.unit
  front  = outside
  rear   = chamber.high
  drive  = drive.top
}
port "link" {
  from     = chamber.low
  to       = chamber.high
  diameter = "60 mm"
  length   = "80 mm"
  walls    = "ideal"
}
port "vent" {
  from     = chamber.low
  to       = outside
  diameter = "100 mm"
  length   = "150 mm"
  walls    = "ideal"
}
drive "bottom" {
  voltage = "2.83 V"
  delay   = "1.3 ms"
  filter {
    kind      = "high-pass"
    frequency = "22 Hz"
    q         = 1.1
  }
  filter {
    kind      = "low-pass"
    frequency = "180 Hz"
    order     = 5
  }
  filter {
    kind      = "bell"
    frequency = "45 Hz"
    q         = 2
    gain      = -4.5
  }
}
drive "top" {
  voltage           = "2 V"
  gain              = 3
  reversed          = true
  delay             = "0.4 ms"
  source_resistance = "0.3 ohm"
  filter {
    kind      = "low-shelf"
    frequency = "70 Hz"
    q         = 0.8
    gain      = 5
  }
  filter {
    kind      = "high-shelf"
    frequency = "120 Hz"
    gain      = -6
  }
  filter {
    kind      = "high-pass"
    frequency = "30 Hz"
    order     = 3
  }
}
listen { radiation = "none" }
