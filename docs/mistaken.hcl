driver "small" {
  re  = "3.3 ohm"
  fs  = "88 kg"
  qms = 4.2
  qes = 0.68
  vas = "1.25 L"
  sd  = "51 cm^2"
}

chamber "near" { volume = "0.95 L" }

mount "cone" {
  driver = driver.small
  front  = outside
  rear   = chamber.neer
}
