# The box that the recordings in this folder were made from: Dunlin as it might
# have been built, a little otherwise than drawn. Invented like the rest.
title  = "Dunlin, as built"
author = "the salt marsh bench"
notes  = "Two chambers in series, the second with the mouth. Invented."

driver "small" {
  re    = "3.3 ohm"
  le    = "0.21 mH"
  fs    = "88 Hz"
  qms   = 4.2
  qes   = 0.68
  vas   = "1.25 L"
  sd    = "51 cm2"
  xmax  = "2.6 mm"
  power = "20 W"

  # Its rest position sits off the middle of the gap, and it sags one way.
  large {
    xmax_by       = "bl"
    bl_offset     = "0.5 mm"
    cms_asymmetry = 0.15
  }
}

chamber "near" { volume = "0.93 L" }
chamber "far" { size = ["110 mm", "140 mm", "150 mm"] }

mount "cone" {
  driver = driver.small
  front  = outside
  rear   = chamber.near
}

# Between the two chambers: a short round tube in the dividing wall.
port "inner" {
  from     = chamber.near
  to       = chamber.far
  diameter = "36 mm"
  length   = "33 mm"
}

port "mouth" {
  from   = chamber.far
  to     = outside
  size   = ["24 mm", "55 mm"]
  length = "70 mm"
}

drive { voltage = "2.83 V" }
tones = ["112 Hz", "144 Hz", "192 Hz", "252 Hz"]
