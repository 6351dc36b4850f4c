chamber "near" { volume = "0.95 L" }
port "mouth" {
  from     = chamber.near
  to       = outside
  diameter = "36 mm"
  length   = "70 mm"
}
