driver "small" { file = "driver-file-of-itself.hcl" }
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
