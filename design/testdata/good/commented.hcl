# An invented box with remarks in it.
# They stay.

title = "Ruff" // the name

driver "small" {
  # from the sheet
  re    = "3.3 ohm" # measured 3.27
  le    = "0.21 mH"
  fs    = "88 Hz"
  qms   = 4.2
  qes   = 0.68
  vas   = "1.25 L" /* at 20 C */
  sd    = "51 cm2"
}

# behind the cone
chamber "near" { volume = "0.95 L" }
chamber "far"  { size = ["110 mm", "14 cm", "150 mm"] } # inner lengths

mount "cone" {
  driver = driver.small
  front  = outside
  rear   = chamber.near
}

# between the two
port "inner" {
  from     = chamber.near
  to       = chamber.far
  diameter = "36 mm"
  length   = "30 mm"
}

port "mouth" {
  from   = chamber.far
  to     = outside
  size   = [
    "24 mm", # high
    "55 mm", # wide
  ]
  length = "70 mm"

  # painted inside
}

line "pipe" {
	from = chamber.far
	to   = closed
	section { # first
		length = "200 mm"
		area   = "20 cm2"
	}
	section { # second
		length  = "300 mm"
		area    = "20 cm2"
		to_area = "40 cm2"
	}
}

listen {
  distance = "1 m" # on the axis
}
drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz"] # the trial's

tolerance {
  # what the saw does
  mouth { length = "2 %" }
}
# the end
