driver "small" {
  re  = "3.3 ohm"
  sd  = "51 cm2"
  fs  = "88 Hz"
  qms = 4.2
  qes = 0.68
  vas = "1.25 L"
}
chamber "near" { volume = "0.95 L" }
mount "cone" {
  driver = driver.small
  front  = outside
  rear   = chamber.near
}
port "mouth" {
  from     = chamber.near
  to       = outside
  diameter = "36 mm"
  length   = "70 mm"
}
drive {
  voltage = "2 V"
  power   = "1 W"
}
