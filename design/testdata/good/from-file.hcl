title = "From a file"
driver "small" { file = "dunlin.hcl" }
chamber "box" { volume = "2 L" }
mount "cone" {
  driver = driver.small
  front  = outside
  rear   = chamber.box
}
