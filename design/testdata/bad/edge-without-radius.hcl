driver "u" {
  re  = "6 ohm"
  sd  = "200 cm2"
  fs  = "40 Hz"
  qms = 5
  qes = 0.4
  vas = "40 L"
}
chamber "c" { volume = "20 L" }
mount "m" {
  driver = driver.u
  front  = outside
  rear   = chamber.c
}
port "p" {
  from     = chamber.c
  to       = outside
  diameter = "50 mm"
  length   = "100 mm"
  edges    = ["sharp", "flared"]
}
port "q" {
  from        = chamber.c
  to          = outside
  diameter    = "50 mm"
  length      = "100 mm"
  edge_radius = "5 mm"
}
